//! The data rows of a table, all cells in one text: a large file then costs little more memory
//! than it has bytes. Offsets are 32 bits wide; a longer text is refused before it comes here.

use csv::StringRecord;

/// Rows of cells, each with the number of its line.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    pieces: Vec<Piece>,
    /// The first row of each piece, and one more for the end.
    starts: Vec<usize>,
    /// The piece that holds the first row of each block of [`BLOCK`] rows.
    blocks: Vec<u32>,
}

const BLOCK: usize = 1 << 10;

/// The rows of a piece of the text.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    text: String,
    /// Where each cell ends in `text`; it begins where the one before ends.
    ends: Vec<u32>,
    /// The place of each row's first cell in `ends`, and one more for the end.
    first: Vec<u32>,
    numbers: Vec<u32>,
}

/// Bytes of a usual cell, with its delimiter.
const USUAL_CELL: usize = 6;

impl Piece {
    /// No rows yet, with room for those of so many bytes of text.
    pub fn of_text(bytes: usize) -> Self {
        Self {
            text: String::with_capacity(bytes),
            ends: Vec::with_capacity(bytes / USUAL_CELL),
            first: vec![0],
            numbers: Vec::new(),
        }
    }

    fn len(&self) -> usize {
        self.numbers.len()
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

    /// Adds a row whose cells are as the reader parted them.
    pub fn push_record(&mut self, number: usize, record: &StringRecord) {
        let before = self.text.len();
        self.text.push_str(record.as_slice());
        let ends = (0..record.len()).filter_map(|at| record.range(at));
        self.ends
            .extend(ends.map(|cell| (before + cell.end) as u32));
        self.first.push(self.ends.len() as u32);
        self.numbers.push(number as u32);
    }

    fn row(&self, row: usize) -> Row<'_> {
        let (first, end) = (self.first[row] as usize, self.first[row + 1] as usize);
        let before = first.checked_sub(1).map(|before| self.ends[before]);
        Row {
            text: &self.text,
            start: before.unwrap_or(0),
            ends: &self.ends[first..end],
        }
    }
}

/// The cells of a row.
#[derive(Clone, Copy)]
pub(super) struct Row<'a> {
    text: &'a str,
    start: u32,
    ends: &'a [u32],
}

impl<'a> Row<'a> {
    /// A cell's text; empty where the row is short.
    pub fn cell(self, column: usize) -> &'a str {
        let Some(&end) = self.ends.get(column) else {
            return "";
        };
        let before = column.checked_sub(1).map(|before| self.ends[before]);
        &self.text[before.unwrap_or(self.start) as usize..end as usize]
    }
}

impl Rows {
    /// The rows of pieces of a text, each with the number of lines in it, as those of the text.
    pub fn of(pieces: Vec<(Piece, usize)>) -> Self {
        let mut rows = Self {
            pieces: Vec::with_capacity(pieces.len()),
            starts: vec![0],
            blocks: Vec::new(),
        };
        let mut lines = 0;
        for (mut piece, lines_in_piece) in pieces {
            piece.numbers.iter_mut().for_each(|number| *number += lines);
            lines += lines_in_piece as u32;
            let end = rows.len() + piece.len();
            rows.blocks
                .resize(end.div_ceil(BLOCK), rows.pieces.len() as u32);
            rows.starts.push(end);
            rows.pieces.push(piece);
        }
        rows
    }

    /// Rows.
    pub fn len(&self) -> usize {
        self.starts[self.pieces.len()]
    }

    /// The piece that holds a row, and which of its rows it is.
    fn at(&self, row: usize) -> (&Piece, usize) {
        let mut at = self.blocks[row / BLOCK] as usize;
        while self.starts[at + 1] <= row {
            at += 1;
        }
        (&self.pieces[at], row - self.starts[at])
    }

    /// The file's line that a row stands on.
    pub fn number(&self, row: usize) -> usize {
        let (piece, row) = self.at(row);
        piece.numbers[row] as usize
    }

    /// A row.
    pub fn row(&self, row: usize) -> Row<'_> {
        let (piece, row) = self.at(row);
        piece.row(row)
    }

    /// Cells of a row.
    pub fn width(&self, row: usize) -> usize {
        self.row(row).ends.len()
    }

    /// A cell's text; empty where a row is short.
    pub fn cell(&self, row: usize, column: usize) -> &str {
        self.row(row).cell(column)
    }

    /// The cells of a row.
    pub fn cells(&self, row: usize) -> impl Iterator<Item = &str> {
        let row = self.row(row);
        (0..row.ends.len()).map(move |column| row.cell(column))
    }

    /// Whether two rows are equal in every cell.
    pub fn same(&self, one: usize, other: usize) -> bool {
        self.width(one) == self.width(other) && self.cells(one).eq(self.cells(other))
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
        let mut picked = Piece::of_text(0);
        for row in rows {
            picked.push(self.number(row), self.cells(row));
        }
        picked.into()
    }
}

impl From<Piece> for Rows {
    fn from(piece: Piece) -> Self {
        Self::of(vec![(piece, 0)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_back_and_short_rows_end_in_blanks() {
        let mut rows = Piece::of_text(0);
        rows.push(2, ["1", "", "°C"].into_iter());
        rows.push(5, ["1"].into_iter());
        rows.push_record(6, &StringRecord::from(vec!["1", "", "°C"]));
        let rows = Rows::from(rows);
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
