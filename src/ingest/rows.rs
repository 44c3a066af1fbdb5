//! The data rows of a table, all cells in one text: a large file then costs little more memory
//! than it has bytes. Offsets are 32 bits wide; a longer text is refused before it comes here.

/// Rows of cells, each with the number of its line.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    text: String,
    /// Where each cell ends in `text`; it begins where the one before ends.
    ends: Vec<u32>,
    /// The place of each row's first cell in `ends`, and one more for the end.
    first: Vec<u32>,
    numbers: Vec<u32>,
}

/// Bytes of a usual cell, with its delimiter.
const USUAL_CELL: usize = 6;

impl Default for Rows {
    fn default() -> Self {
        Self {
            text: String::new(),
            ends: Vec::new(),
            first: vec![0],
            numbers: Vec::new(),
        }
    }
}

impl Rows {
    /// No rows yet, with room for those of so many bytes of text.
    pub fn of_text(bytes: usize) -> Self {
        Self {
            text: String::with_capacity(bytes),
            ends: Vec::with_capacity(bytes / USUAL_CELL),
            ..Self::default()
        }
    }

    /// Rows.
    pub fn len(&self) -> usize {
        self.numbers.len()
    }

    /// The file's line that a row stands on.
    pub fn number(&self, row: usize) -> usize {
        self.numbers[row] as usize
    }

    /// Cells of a row.
    pub fn width(&self, row: usize) -> usize {
        (self.first[row + 1] - self.first[row]) as usize
    }

    /// A cell's text; empty where a row is short.
    pub fn cell(&self, row: usize, column: usize) -> &str {
        if column >= self.width(row) {
            return "";
        }
        let at = self.first[row] as usize + column;
        let start = at.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.text[start as usize..self.ends[at] as usize]
    }

    /// The cells of a row.
    pub fn cells(&self, row: usize) -> impl Iterator<Item = &str> {
        (0..self.width(row)).map(move |column| self.cell(row, column))
    }

    /// Whether two rows are equal in every cell.
    pub fn same(&self, one: usize, other: usize) -> bool {
        self.width(one) == self.width(other) && self.cells(one).eq(self.cells(other))
    }

    /// Adds a row.
    pub fn push<'a>(&mut self, number: usize, cells: impl Iterator<Item = &'a str>) {
        for cell in cells {
            self.text.push_str(cell);
            self.ends.push(self.text.len() as u32);
        }
        self.first.push(self.ends.len() as u32);
        self.numbers.push(number as u32);
    }

    /// The rows of pieces of a text, each with the number of lines in it, as those of the text.
    pub fn joined(pieces: Vec<(Self, usize)>) -> Self {
        let total = |of: fn(&Self) -> usize| pieces.iter().map(|(piece, _)| of(piece)).sum();
        let mut all = Self {
            text: String::with_capacity(total(|piece| piece.text.len())),
            ends: Vec::with_capacity(total(|piece| piece.ends.len())),
            first: Vec::with_capacity(total(|piece| piece.first.len())),
            numbers: Vec::with_capacity(total(Self::len)),
        };
        all.first.push(0);
        let mut lines = 0;
        for (piece, lines_in_piece) in pieces {
            let (text, cells) = (all.text.len() as u32, all.ends.len() as u32);
            all.text.push_str(&piece.text);
            all.ends.extend(piece.ends.iter().map(|end| text + end));
            all.first
                .extend(piece.first[1..].iter().map(|at| cells + at));
            all.numbers.extend(piece.numbers.iter().map(|n| lines + n));
            lines += lines_in_piece as u32;
        }
        all
    }

    /// The rows of which `keep` holds.
    pub fn filtered(&self, keep: impl Fn(usize) -> bool) -> Self {
        self.picked((0..self.len()).filter(|row| keep(*row)))
    }

    /// The rows from the last to the first.
    pub fn reversed(&self) -> Self {
        self.picked((0..self.len()).rev())
    }

    fn picked(&self, rows: impl Iterator<Item = usize>) -> Self {
        let mut picked = Self::default();
        for row in rows {
            picked.push(self.number(row), self.cells(row));
        }
        picked
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_back_and_short_rows_end_in_blanks() {
        let mut rows = Rows::default();
        rows.push(2, ["1", "", "°C"].into_iter());
        rows.push(5, ["1"].into_iter());
        rows.push(6, ["1", "", "°C"].into_iter());
        assert_eq!((rows.len(), rows.width(1), rows.number(1)), (3, 1, 5));
        assert_eq!(
            (rows.cell(0, 2), rows.cell(1, 0), rows.cell(1, 2)),
            ("°C", "1", "")
        );
        assert!(rows.same(0, 2) && !rows.same(0, 1));
        let kept = rows.filtered(|row| row > 0);
        assert_eq!((kept.len(), kept.number(0), kept.cell(1, 2)), (2, 5, "°C"));
    }
}
