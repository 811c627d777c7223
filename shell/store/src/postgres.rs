//! The book in a PostgreSQL database, shared by several servers.
//!
//! A change is one transaction; PostgreSQL answers a commit when it is on the disk (`synchronous_commit` is asked to be on).
//! Damage on the disk is PostgreSQL's to find (data checksums) and the book's too: every text has its own checksum beside it.

mod reach;

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::error::Error as _;
use std::fmt;

use book::{Checksum, Damage, DeviceId, EventId, Loaded, Seen, StoreError, check_kept};
use postgres::types::{FromSql, IsNull, ToSql, Type, private::BytesMut};
use postgres::{Client, Statement};

use crate::kept::SqlStore;
use crate::random::fresh_device;
use crate::sql::{Database, Row, Sealed, Value};

/// The highest version of the tables this program reads and the one it makes.
const SCHEMA_VERSION: u32 = 1;
/// Who holds this lock makes the tables, or writes under a device's own name. Any number would do; `CWBK` in letters.
const LOCK: i64 = 0x4357_424b;

const TABLES: &str = "
    CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL);
    CREATE TABLE event (
        arrival BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
        device BYTEA NOT NULL,
        counter BIGINT NOT NULL,
        sum BYTEA NOT NULL,
        text TEXT NOT NULL
    );
    CREATE UNIQUE INDEX event_name ON event (device, counter, sum);
    CREATE TABLE record (id BYTEA PRIMARY KEY, key BYTEA NOT NULL, sum BYTEA NOT NULL, bytes BYTEA NOT NULL);
    -- A photo is sealed and so does not get smaller by being compressed.
    ALTER TABLE record ALTER COLUMN bytes SET STORAGE EXTERNAL;
    -- A key without a secret was destroyed.
    CREATE TABLE key (id BYTEA PRIMARY KEY, secret BYTEA);
";

/// A connection to a PostgreSQL database.
pub struct Postgres {
    client: RefCell<Client>,
    /// What was prepared, by its text.
    prepared: RefCell<BTreeMap<String, Statement>>,
}

impl fmt::Debug for Postgres {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Postgres")
    }
}

/// The book in a PostgreSQL database.
pub type PostgresStore = SqlStore<Postgres>;

impl SqlStore<Postgres> {
    /// Opens the book in the database at an address such as `postgres://user@host/name`, and makes its tables if there are none.
    /// Another machine is reached by TLS alone; `?sslrootcert=FILE` names the authorities to trust in place of the usual ones.
    ///
    /// # Errors
    /// [`StoreError::NotABook`] if the database holds other tables, [`StoreError::Newer`] if a newer program made them,
    /// [`StoreError::Failed`] if it cannot be reached.
    pub fn open(address: &str) -> Result<Self, StoreError> {
        Self::opened(address, None)
    }

    /// Opens the book in a schema of its own, which is made where it is missing: several shops may share a database so.
    ///
    /// # Errors
    /// As [`Self::open`]; and if the schema's name is not small letters, digits and underlines.
    pub fn open_schema(address: &str, schema: &str) -> Result<Self, StoreError> {
        let plain = |letter: u8| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == b'_';
        if schema.is_empty() || !schema.bytes().all(plain) {
            let why = format!("`{schema}` names no schema; use small letters, digits and underlines");
            return Err(StoreError::Failed(why));
        }
        Self::opened(address, Some(schema))
    }

    fn opened(address: &str, schema: Option<&str>) -> Result<Self, StoreError> {
        let words = |error: postgres::Error| in_words(&error);
        let mut client = reach::connect(address)?;
        // A notice about a table that is there already is no news.
        client.batch_execute("SET synchronous_commit = on; SET client_min_messages = warning").map_err(words)?;
        if let Some(schema) = schema {
            let sql = format!("CREATE SCHEMA IF NOT EXISTS {schema}; SET search_path TO {schema}");
            client.batch_execute(&sql).map_err(words)?;
        }
        make_tables(&mut client)?;
        let database = Postgres { client: RefCell::new(client), prepared: RefCell::default() };
        Ok(Self { database })
    }
}

/// Makes the tables unless another server just did, all or nothing.
fn make_tables(client: &mut Client) -> Result<(), StoreError> {
    let words = |error: postgres::Error| in_words(&error);
    let mut transaction = client.transaction().map_err(words)?;
    transaction.execute("SELECT pg_advisory_xact_lock($1)", &[&LOCK]).map_err(words)?;
    let sql = "SELECT count(*), count(*) FILTER (WHERE table_name = 'about') FROM information_schema.tables
               WHERE table_schema = current_schema()";
    let row = transaction.query_one(sql, &[]).map_err(words)?;
    let (tables, about): (i64, i64) = (row.get(0), row.get(1));
    let not_a_book = || StoreError::NotABook("this database".to_owned());
    if tables == 0 {
        transaction.batch_execute(TABLES).map_err(words)?;
        let about = "INSERT INTO about (name, value) VALUES ('schema_version', $1), ('device', $2)";
        let device = fresh_device()?.to_string();
        transaction.execute(about, &[&SCHEMA_VERSION.to_string(), &device]).map_err(words)?;
    } else if about == 0 {
        return Err(not_a_book());
    } else {
        let row = transaction.query_opt("SELECT value FROM about WHERE name = 'schema_version'", &[]).map_err(words)?;
        let found = row.and_then(|row| row.get::<_, String>(0).parse().ok()).ok_or_else(not_a_book)?;
        if found > SCHEMA_VERSION {
            return Err(StoreError::Newer { found, known: SCHEMA_VERSION });
        }
    }
    transaction.commit().map_err(words)
}

/// What PostgreSQL says, with the reason under it. It names tables and never values.
fn in_words(error: &postgres::Error) -> StoreError {
    let reason = error.as_db_error().map(|of| of.message().to_owned());
    let reason = reason.or_else(|| error.source().map(ToString::to_string));
    StoreError::Failed(format!("{error}{}", reason.map_or_else(String::new, |reason| format!(": {reason}"))))
}

impl ToSql for Value {
    fn to_sql(&self, of: &Type, out: &mut BytesMut) -> Result<IsNull, Box<dyn std::error::Error + Sync + Send>> {
        match self {
            Self::Null => Ok(IsNull::Yes),
            // Lengths and places within bytes are small numbers there.
            Self::Int(number) if *of == Type::INT4 => i32::try_from(*number)?.to_sql(of, out),
            Self::Int(number) => number.to_sql(of, out),
            Self::Bytes(bytes) => bytes.as_slice().to_sql(of, out),
            Self::Text(text) => text.as_str().to_sql(of, out),
        }
    }

    fn accepts(_: &Type) -> bool {
        true
    }

    postgres::types::to_sql_checked!();
}

impl<'a> FromSql<'a> for Value {
    fn from_sql(of: &Type, raw: &'a [u8]) -> Result<Self, Box<dyn std::error::Error + Sync + Send>> {
        Ok(match *of {
            Type::INT8 => Self::Int(i64::from_sql(of, raw)?),
            Type::INT4 => Self::Int(i32::from_sql(of, raw)?.into()),
            Type::BYTEA => Self::Bytes(raw.to_vec()),
            _ => Self::Text(<&str>::from_sql(of, raw)?.to_owned()),
        })
    }

    fn from_sql_null(_: &Type) -> Result<Self, Box<dyn std::error::Error + Sync + Send>> {
        Ok(Self::Null)
    }

    fn accepts(_: &Type) -> bool {
        true
    }
}

fn parameters(values: &[Value]) -> Vec<&(dyn ToSql + Sync)> {
    values.iter().map(|value| -> &(dyn ToSql + Sync) { value }).collect()
}

impl Postgres {
    fn prepared(&self, sql: &str) -> Result<Statement, StoreError> {
        if let Some(statement) = self.prepared.borrow().get(sql) {
            return Ok(statement.clone());
        }
        let statement = self.client.borrow_mut().prepare(sql).map_err(|error| in_words(&error))?;
        self.prepared.borrow_mut().insert(sql.to_owned(), statement.clone());
        Ok(statement)
    }
}

impl Database for Postgres {}

impl Sealed for Postgres {
    fn run(&self, sql: &str, values: &[Value]) -> Result<u64, StoreError> {
        let statement = self.prepared(sql)?;
        let done = self.client.borrow_mut().execute(&statement, &parameters(values));
        done.map_err(|error| in_words(&error))
    }

    fn rows(&self, sql: &str, values: &[Value]) -> Result<Vec<Row>, StoreError> {
        let statement = self.prepared(sql)?;
        let rows = self.client.borrow_mut().query(&statement, &parameters(values)).map_err(|error| in_words(&error))?;
        let read = |row: &postgres::Row| (0..row.len()).map(|at| row.try_get(at)).collect::<Result<Row, _>>();
        rows.iter().map(|row| read(row).map_err(|error| in_words(&error))).collect()
    }

    fn begin(&self, alone: bool) -> Result<(), StoreError> {
        let lock = if alone { format!("BEGIN; SELECT pg_advisory_xact_lock({LOCK})") } else { "BEGIN".to_owned() };
        self.client.borrow_mut().batch_execute(&lock).map_err(|error| in_words(&error))
    }

    fn commit(&self) -> Result<(), StoreError> {
        self.client.borrow_mut().batch_execute("COMMIT").map_err(|error| in_words(&error))
    }

    fn roll_back(&self) {
        // A connection that is gone has given it up already.
        drop(self.client.borrow_mut().batch_execute("ROLLBACK"));
    }

    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError> {
        let (mut events, mut damaged) = (Vec::new(), Vec::new());
        for row in self.rows("SELECT device, counter, sum, text FROM event ORDER BY arrival", &[])? {
            match named(&row) {
                Some((id, _)) if seen.knows(id) => {}
                Some((id, sum)) => match check_kept(id, sum, row.get(3).map_or(&[], Value::bytes)) {
                    Ok(event) => events.push(event),
                    Err(damage) => damaged.push(damage),
                },
                None => damaged.push(Damage { id: None, what: "its name cannot be read".to_owned() }),
            }
        }
        Ok(Loaded::in_order(events, damaged))
    }

    fn words(&self) -> [&'static str; 2] {
        ["BYTEA", "BIGINT GENERATED ALWAYS AS IDENTITY"]
    }

    /// Old versions of a row linger until PostgreSQL cleans them up: a key that was destroyed must not.
    fn wipe(&self) -> Result<(), StoreError> {
        self.client.borrow_mut().batch_execute("VACUUM key").map_err(|error| in_words(&error))
    }
}

/// Name and checksum of a row.
fn named(row: &Row) -> Option<(EventId, Checksum)> {
    let [device, counter, sum] = row.get(..3)? else { return None };
    let id = EventId::new(DeviceId::from_random(device.exactly()?), counter.count()?)?;
    Some((id, Checksum::from_bytes(sum.exactly()?)))
}
