//! How a PostgreSQL server is reached: another machine by TLS alone, and only one that is who it says.

use store::PostgresStore;

fn why(address: &str) -> String {
    PostgresStore::open(address).err().map_or_else(String::new, |error| error.to_string())
}

#[test]
fn another_machine_is_not_reached_without_tls() {
    for host in ["db.example", "192.0.2.7"] {
        let said = why(&format!("postgres://shop@{host}/book?sslmode=disable"));
        assert!(said.contains("sslmode=disable") && said.contains("leave it out"), "{said}");
    }
}

#[test]
fn authorities_that_cannot_be_read_are_told_with_their_file() {
    let said = why("postgres://shop@db.example/book?sslrootcert=/no/such.pem");
    assert!(said.contains("/no/such.pem"), "{said}");
    let folder = tempfile::tempdir().unwrap();
    let empty = folder.path().join("empty.pem");
    std::fs::write(&empty, "nothing\n").unwrap();
    let said = why(&format!("postgres://shop@db.example/book?sslrootcert={}&connect_timeout=3", empty.display()));
    assert!(said.contains("no certificate in it"), "{said}");
}

/// The server of the tests takes nobody over the network without TLS, and its certificate is for `localhost`.
#[test]
#[ignore = "needs PostgreSQL; make test brings it"]
fn the_book_is_reached_by_tls_and_only_at_a_server_that_is_vouched_for() {
    let address = std::env::var("CALLWRIGHT_POSTGRES_TLS").unwrap();
    let authority = std::env::var("CALLWRIGHT_POSTGRES_AUTHORITY").unwrap();
    let open = |parameters: &str| {
        let address = format!("{address}?{parameters}");
        PostgresStore::open_schema(&address, "by_tls")
            .map(|store| store.device().is_ok())
            .map_err(|why| why.to_string())
    };
    assert_eq!(open(&format!("sslmode=require&sslrootcert={authority}")), Ok(true));
    // On this machine nothing else is asked for, and this server refuses it.
    assert!(open("sslmode=prefer").unwrap_err().contains("no encryption"), "{:?}", open("sslmode=prefer"));
    // Nobody that vouches for web servers vouches for this one.
    let unknown = open("sslmode=require").unwrap_err();
    assert!(unknown.contains("certificate") || unknown.contains("UnknownIssuer"), "{unknown}");
    let by_number = address.replace("localhost", "127.0.0.1");
    let other_name = PostgresStore::open(&format!("{by_number}?sslmode=require&sslrootcert={authority}"));
    assert!(other_name.is_err(), "a certificate for another name was taken");
}
