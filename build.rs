//! Tells the program the hash of its own source. A fit that is kept in a book is answered again only
//! by a program built from the same source and the same versions of its libraries.

use std::error::Error;
use std::fs;
use std::hash::{DefaultHasher, Hasher};
use std::path::{Path, PathBuf};

fn main() -> Result<(), Box<dyn Error>> {
    let mut files = vec![PathBuf::from("Cargo.toml"), PathBuf::from("Cargo.lock")];
    gather(Path::new("src"), &mut files)?;
    files.sort();
    let mut hash = DefaultHasher::new();
    for file in files {
        println!("cargo:rerun-if-changed={}", file.display());
        hash.write(file.to_string_lossy().as_bytes());
        // A package that is installed from elsewhere may come without the list of versions.
        hash.write(&fs::read(&file).unwrap_or_default());
    }
    println!("cargo:rerun-if-changed=src");
    println!("cargo:rustc-env=HEATBOOK_SOURCE={:016x}", hash.finish());
    Ok(())
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> Result<(), Box<dyn Error>> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(&path, files)?;
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
    Ok(())
}
