//! Parquet files that lie about themselves, written byte by byte: no library writes them.
//!
//! Layout: Apache Parquet's parquet.thrift in Thrift's compact protocol (from memory).
#![allow(dead_code, reason = "each test binary uses some of these")]

const NUMBER_32: u8 = 5;
const NUMBER_64: u8 = 6;
const BINARY: u8 = 8;
const LIST: u8 = 9;
const STRUCT: u8 = 12;

/// A structure that is being written, and the number of its last field.
#[derive(Clone, Default)]
pub struct Struct(Vec<u8>, u8);

fn unsigned(mut number: u64) -> Vec<u8> {
    let mut bytes = Vec::new();
    while number > 0x7f {
        bytes.push(number as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
    bytes
}

fn folded(number: i64) -> Vec<u8> {
    unsigned((number << 1 ^ number >> 63) as u64)
}

impl Struct {
    fn field(mut self, id: u8, kind: u8, bytes: &[u8]) -> Struct {
        self.0.push((id - self.1) << 4 | kind);
        self.0.extend(bytes);
        Struct(self.0, id)
    }

    pub fn small(self, id: u8, number: i32) -> Struct {
        self.field(id, NUMBER_32, &folded(number.into()))
    }

    pub fn large(self, id: u8, number: i64) -> Struct {
        self.field(id, NUMBER_64, &folded(number))
    }

    pub fn text(self, id: u8, text: &str) -> Struct {
        self.field(id, BINARY, &[unsigned(text.len() as u64), text.as_bytes().to_vec()].concat())
    }

    pub fn inner(self, id: u8, inner: Struct) -> Struct {
        self.field(id, STRUCT, &inner.end())
    }

    /// A list that says it holds so many structures, whatever it does hold.
    pub fn list_of(self, id: u8, said: u64, held: &[Struct]) -> Struct {
        let head = [vec![0xf0 | STRUCT], unsigned(said)].concat();
        let held: Vec<u8> = held.iter().flat_map(|one| one.clone().end()).collect();
        self.field(id, LIST, &[head, held].concat())
    }

    pub fn list(self, id: u8, held: &[Struct]) -> Struct {
        self.list_of(id, held.len() as u64, held)
    }

    fn numbers(self, id: u8, numbers: &[i32]) -> Struct {
        let numbers: Vec<u8> = numbers.iter().flat_map(|n| folded((*n).into())).collect();
        let head = [(numbers.len() as u8) << 4 | NUMBER_32];
        self.field(id, LIST, &[&head, numbers.as_slice()].concat())
    }

    fn texts(self, id: u8, text: &str) -> Struct {
        let text = [vec![1 << 4 | BINARY], unsigned(text.len() as u64), text.as_bytes().to_vec()].concat();
        self.field(id, LIST, &text)
    }

    pub fn end(mut self) -> Vec<u8> {
        self.0.push(0);
        self.0
    }
}

/// A file of these bytes and this description.
pub fn file(columns: &[u8], about: Struct) -> Vec<u8> {
    let about = about.end();
    [b"PAR1", columns, &about, &(about.len() as u32).to_le_bytes(), b"PAR1"].concat()
}

/// A group of so many columns.
pub fn group(name: &str, inner: i32) -> Struct {
    Struct::default().text(4, name).small(5, inner)
}

/// A column of required texts.
pub fn text_column(name: &str) -> Struct {
    Struct::default().small(1, 6).small(3, 0).text(4, name).small(6, 0)
}

/// What stands above columns: version, schema, rows.
pub fn about(schema: &[Struct], rows: i64) -> Struct {
    Struct::default().small(1, 1).list(2, schema).large(3, rows)
}

/// A row group whose columns all lie in the same stretch of bytes, not packed.
pub fn row_group(names: &[&str], rows: i64, stretch: std::ops::Range<i64>) -> Struct {
    let length = stretch.end - stretch.start;
    let column = |name: &&str| {
        let about = Struct::default().small(1, 6).numbers(2, &[0, 8]).texts(3, name).small(4, 0);
        let about = about.large(5, rows).large(6, length).large(7, length).large(9, stretch.start);
        Struct::default().large(2, stretch.start).inner(3, about)
    };
    let columns: Vec<Struct> = names.iter().map(column).collect();
    Struct::default().list(1, &columns).large(2, length).large(3, rows)
}

/// A page of data: so many texts in plain encoding.
pub fn page(values: i32, unpacked: i32, bytes: &[u8]) -> Vec<u8> {
    let about = Struct::default().small(1, values).small(2, 0).small(3, 3).small(4, 3);
    let head = Struct::default().small(1, 0).small(2, unpacked).small(3, bytes.len() as i32).inner(5, about);
    [head.end(), bytes.to_vec()].concat()
}

/// A page of different values, to which others point.
pub fn different(values: i32, unpacked: i32, bytes: &[u8]) -> Vec<u8> {
    let about = Struct::default().small(1, values).small(2, 0);
    let head = Struct::default().small(1, 2).small(2, unpacked).small(3, bytes.len() as i32).inner(7, about);
    [head.end(), bytes.to_vec()].concat()
}

/// Texts in plain encoding.
pub fn plain(texts: &[&str]) -> Vec<u8> {
    texts.iter().flat_map(|text| [&(text.len() as u32).to_le_bytes(), text.as_bytes()].concat()).collect()
}
