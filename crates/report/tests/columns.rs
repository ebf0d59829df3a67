//! The Parquet files, read back by the library's own reader, against the CSV tables; and what a
//! writer must never do.

mod common;

use common::{Device, Names, Session};
use parquet::basic::{Repetition, Type as Physical};
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use report::csv;
use report::parquet::{self as columns, Belonging};
use report::tables::{self, Presence, Table};

fn belonging() -> Belonging {
    Belonging {
        session: "7f3a9c0d51e24b88".into(),
        opening_sha256: "0a".repeat(32),
    }
}

fn written(table: &Table<'_>) -> Vec<u8> {
    let mut bytes = Vec::new();
    columns::write(table, &belonging(), &mut bytes).expect("a vector takes bytes");
    bytes
}

/// A field as CSV writes it, and as the library prints none of them.
fn words(field: &Field) -> String {
    match field {
        Field::Null => String::new(),
        Field::Long(value) => value.to_string(),
        Field::Double(value) => value.to_string(),
        Field::Bool(value) => value.to_string(),
        Field::Str(value) => value.clone(),
        Field::TimestampMicros(micros) => micros.to_string(),
        other => panic!("no column has values like {other:?}"),
    }
}

#[test]
fn every_table_reads_back_as_its_csv() {
    let session = Session::default();
    let findings = common::findings(Device::default(), Names::default());
    let recorded = session.recorded();
    let mut read = 0;
    for table in tables::all(&recorded, &findings) {
        let text = csv(&table);
        let mut expected = csv::Reader::from_reader(text.as_bytes());
        let reader = SerializedFileReader::new(bytes::Bytes::from(written(&table)))
            .unwrap_or_else(|error| panic!("{}: {error}", table.name));
        let metadata = reader.metadata().file_metadata();
        assert_eq!(metadata.num_rows(), table.rows as i64, "{}", table.name);
        for (column, described) in table.columns.iter().zip(metadata.schema_descr().columns()) {
            assert_eq!(described.name(), column.name, "{}", table.name);
            let repetition = match column.presence {
                Presence::Always => Repetition::REQUIRED,
                Presence::Perhaps => Repetition::OPTIONAL,
            };
            assert_eq!(
                described.self_type().get_basic_info().repetition(),
                repetition
            );
        }
        let rows = reader.get_row_iter(None).expect("the schema can be read");
        for (row, expected) in rows.zip(expected.records()) {
            let (row, expected) = (row.expect("a row"), expected.expect("a record"));
            let found: Vec<String> = row
                .get_column_iter()
                .zip(&expected)
                .map(|((name, field), expected)| match name.as_str() {
                    // Only CSV keeps the offset and the digits below a microsecond.
                    "started" => {
                        assert_eq!(words(field), "1749886200000000");
                        expected.to_owned()
                    }
                    _ => words(field),
                })
                .collect();
            assert_eq!(found, expected.iter().collect::<Vec<_>>(), "{}", table.name);
            read += 1;
        }
        assert_eq!(
            csv::Reader::from_reader(text.as_bytes()).records().count(),
            table.rows
        );
    }
    assert!(read > 20_000, "{read} rows");
}

#[test]
fn a_file_tells_where_it_belongs_and_the_same_table_gives_the_same_bytes() {
    let findings = common::findings(Device::default(), Names::default());
    let file = written(&tables::windows(&findings));
    assert_eq!(file, written(&tables::windows(&findings)));
    assert_eq!(
        columns::belonging(file.clone()).expect("it is whole"),
        Some(belonging())
    );
    for cut in [0, 3, 11, file.len() / 2, file.len() - 1] {
        let words = columns::belonging(file[..cut].to_vec())
            .expect_err("it is cut short")
            .to_string();
        assert!(words.contains("not a whole Parquet file"), "{cut}: {words}");
    }
}

/// A session in which nothing was received still has all its tables, with their columns.
#[test]
fn empty_tables_have_their_columns() {
    let nothing = common::nothing();
    let table = tables::cells(&nothing);
    let reader = SerializedFileReader::new(bytes::Bytes::from(written(&table))).expect("it reads");
    let metadata = reader.metadata().file_metadata();
    assert_eq!(metadata.num_rows(), 0);
    assert_eq!(metadata.schema_descr().num_columns(), table.columns.len());
    assert_eq!(
        metadata.schema_descr().column(1).physical_type(),
        Physical::BYTE_ARRAY
    );
}

/// What every row must have is refused where it is not there, with its place, and not invented.
#[test]
fn a_missing_time_is_refused() {
    let mut findings = common::findings(Device::default(), Names::default());
    findings.windows[2].from_s = f64::NAN;
    findings.windows[3].reference_w = f64::NAN;
    let error = columns::write(&tables::windows(&findings), &belonging(), Vec::new())
        .expect_err("a window without a beginning");
    assert_eq!(
        error.to_string(),
        "the table windows has no from_s in row 2, where every row has one"
    );
    findings.windows[2].from_s = 1.0;
    let file = written(&tables::windows(&findings));
    let reader = SerializedFileReader::new(bytes::Bytes::from(file)).expect("it reads");
    let row = reader
        .get_row_iter(None)
        .expect("rows")
        .nth(3)
        .expect("a row")
        .expect("it reads");
    let (_, field) = row.get_column_iter().nth(5).expect("a column");
    assert_eq!(*field, Field::Null, "what is not a number is null");
}
