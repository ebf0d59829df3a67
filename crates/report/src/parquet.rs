//! Tables as Parquet files: columns with types, for query engines. Layout and types of the dataset
//! are described in `PARQUET.md` beside this crate.
//!
//! Where there is no value there is a null; nothing that is not a number is ever written. The same
//! table gives the same bytes.

use crate::tables::{Presence, SCHEMA, Table, Values};
use ::parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use ::parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use ::parquet::errors::ParquetError;
use ::parquet::file::metadata::{KeyValue, ParquetMetaDataReader};
use ::parquet::file::properties::WriterProperties;
use ::parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use ::parquet::schema::types::Type;
use std::io::Write;
use std::ops::Range;
use std::sync::Arc;

/// Most rows of one row group, so that a reader needs little memory and can work in parallel.
const ROWS_PER_GROUP: usize = 1 << 20;

/// Rows that are handed to the writer at a time.
const ROWS_PER_BATCH: usize = 1 << 13;

/// What a file says about where it belongs, so that one that was moved can still be told.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Belonging {
    /// The session's own identifier.
    pub session: String,
    /// SHA-256 of the session's first block, which no two sessions have in common.
    pub opening_sha256: String,
}

/// Why a table could not be written, or a file not be read.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A value that every row must have is not there.
    #[error("the table {table} has no {column} in row {row}, where every row has one")]
    Missing {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
        /// The row, from 0.
        row: usize,
    },
    /// It could not be written: what lies below refused, or the format did.
    #[error("the table {table} could not be written: {source}")]
    Unwritten {
        /// The table.
        table: &'static str,
        /// Why.
        source: ParquetError,
    },
    /// It is not a file of this format.
    #[error("it is not a whole Parquet file: {0}")]
    Unreadable(ParquetError),
}

/// Writes a table as a Parquet file. `belonging` is kept in the file's own metadata, beside the
/// table's name and the version of the tables.
///
/// # Errors
/// If `into` refuses, or a row lacks what every row has.
pub fn write(
    table: &Table<'_>,
    belonging: &Belonging,
    into: impl Write + Send,
) -> Result<(), Error> {
    let failed = |source| Error::Unwritten {
        table: table.name,
        source,
    };
    let said = [
        (TABLE, table.name.to_owned()),
        (VERSION, SCHEMA.to_string()),
        (SESSION, belonging.session.clone()),
        (OPENING, belonging.opening_sha256.clone()),
    ];
    let said = said.map(|(key, value)| KeyValue::new(key.to_owned(), value));
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_key_value_metadata(Some(said.into()))
        .build();
    let schema = schema(table).map_err(failed)?;
    let mut file =
        SerializedFileWriter::new(into, Arc::new(schema), Arc::new(properties)).map_err(failed)?;
    for from in (0..table.rows).step_by(ROWS_PER_GROUP) {
        let rows = from..table.rows.min(from + ROWS_PER_GROUP);
        let mut group = file.next_row_group().map_err(failed)?;
        for column in &table.columns {
            let mut writer = group
                .next_column()
                .map_err(failed)?
                .expect("a group has as many columns as the schema it was made with");
            let part = Part {
                table: table.name,
                column: column.name,
                presence: column.presence,
                rows: rows.clone(),
            };
            part.put(&column.values, &mut writer)?;
            writer.close().map_err(failed)?;
        }
        group.close().map_err(failed)?;
    }
    file.close().map_err(failed)?;
    Ok(())
}

const TABLE: &str = "prony.table";
const VERSION: &str = "prony.schema";
const SESSION: &str = "prony.session";
const OPENING: &str = "prony.opening_sha256";

/// What a file says about where it belongs; `None` if this program did not write it.
///
/// # Errors
/// If the bytes are not those of a whole Parquet file.
pub fn belonging(file: Vec<u8>) -> Result<Option<Belonging>, Error> {
    let metadata = ParquetMetaDataReader::new()
        .parse_and_finish(&bytes::Bytes::from(file))
        .map_err(Error::Unreadable)?;
    let said = metadata.file_metadata().key_value_metadata();
    let find = |key: &str| said?.iter().find(|said| said.key == key)?.value.clone();
    Ok(find(SESSION)
        .zip(find(OPENING))
        .map(|(session, opening_sha256)| Belonging {
            session,
            opening_sha256,
        }))
}

fn schema(table: &Table<'_>) -> Result<Type, ParquetError> {
    let columns = table.columns.iter().map(|column| {
        let (physical, logical) = match column.values {
            Values::Whole(_) => (Physical::INT64, None),
            Values::Real(_) => (Physical::DOUBLE, None),
            Values::Flag(_) => (Physical::BOOLEAN, None),
            Values::Text(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
            Values::Moment(_) => (
                Physical::INT64,
                Some(LogicalType::timestamp(true, TimeUnit::MICROS)),
            ),
        };
        let repetition = match column.presence {
            Presence::Always => Repetition::REQUIRED,
            Presence::Perhaps => Repetition::OPTIONAL,
        };
        Type::primitive_type_builder(column.name, physical)
            .with_logical_type(logical)
            .with_repetition(repetition)
            .build()
            .map(Arc::new)
    });
    Type::group_type_builder(table.name)
        .with_fields(columns.collect::<Result<_, _>>()?)
        .build()
}

/// A part of a column on its way into a file.
struct Part {
    table: &'static str,
    column: &'static str,
    presence: Presence,
    rows: Range<usize>,
}

impl Part {
    fn put(&self, values: &Values<'_>, into: &mut SerializedColumnWriter<'_>) -> Result<(), Error> {
        match values {
            Values::Whole(get) => self.put_as::<Int64Type>(into, get),
            Values::Real(get) => self.put_as::<DoubleType>(into, get),
            Values::Flag(get) => self.put_as::<BoolType>(into, get),
            Values::Text(get) => {
                self.put_as::<ByteArrayType>(into, |row| Some(ByteArray::from(&*get(row)?)))
            }
            Values::Moment(get) => {
                self.put_as::<Int64Type>(into, |row| Some(get(row)?.timestamp_micros()))
            }
        }
    }

    fn put_as<T: DataType>(
        &self,
        into: &mut SerializedColumnWriter<'_>,
        get: impl Fn(usize) -> Option<T::T>,
    ) -> Result<(), Error> {
        let into = into.typed::<T>();
        for from in self.rows.clone().step_by(ROWS_PER_BATCH) {
            // A level for each row says whether it has a value; only those there are follow.
            let (mut values, mut levels) = (Vec::new(), Vec::new());
            for row in from..self.rows.end.min(from + ROWS_PER_BATCH) {
                let value = get(row);
                if value.is_none() && self.presence == Presence::Always {
                    return Err(Error::Missing {
                        table: self.table,
                        column: self.column,
                        row,
                    });
                }
                levels.push(i16::from(value.is_some()));
                values.extend(value);
            }
            let levels = (self.presence == Presence::Perhaps).then_some(levels.as_slice());
            into.write_batch(&values, levels, None)
                .map_err(|source| Error::Unwritten {
                    table: self.table,
                    source,
                })?;
        }
        Ok(())
    }
}
