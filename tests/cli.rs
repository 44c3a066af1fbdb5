#[test] fn t(){}
