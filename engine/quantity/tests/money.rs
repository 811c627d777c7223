//! Money: exact sums, one rounding rule, and no currency by accident.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use quantity::{Currency, Decimal, Money, MoneyError};

fn usd(text: &str) -> Money {
    Money::parse(text, Currency::USD).unwrap()
}

#[test]
fn amounts_read_as_people_write_them() {
    for (text, printed) in [
        ("129.95", "129.95 USD"),
        ("$129.95", "129.95 USD"),
        ("$ 129.95", "129.95 USD"),
        ("-$5", "-5.00 USD"),
        ("1,299.95", "1299.95 USD"),
        ("129", "129.00 USD"),
        ("129.95 EUR", "129.95 EUR"),
        ("129.95 cad", "129.95 CAD"),
        ("£80", "80.00 GBP"),
        ("1000 JPY", "1000 JPY"),
        ("0.125", "0.125 USD"),
    ] {
        let money = usd(text);
        assert_eq!(money.to_string(), printed);
        assert_eq!(usd(&money.to_string()), money);
    }
}

#[test]
fn what_is_no_amount_is_refused_with_a_mend() {
    for text in ["", "abc", "1,29", "12,99.5", "1.2.3", "129.95 DOLLARS", "$", "1e5", ".", "5.", "--5", "٣"] {
        let error = Money::parse(text, Currency::USD).unwrap_err();
        assert!(matches!(&error, MoneyError::Unreadable { mend, .. } if !mend.is_empty()), "`{text}`");
    }
}

#[test]
fn halves_round_away_from_zero_to_the_smallest_unit() {
    for (text, rounded) in [
        ("0.125", "0.13 USD"),
        ("0.135", "0.14 USD"),
        ("-0.125", "-0.13 USD"),
        ("0.1249", "0.12 USD"),
        ("2.5 JPY", "3 JPY"),
        ("1.0005 KWD", "1.001 KWD"),
    ] {
        assert_eq!(usd(text).rounded().to_string(), rounded);
    }
}

#[test]
fn sums_are_exact_where_floats_are_not() {
    let tenths = std::iter::repeat_n(usd("0.10"), 1000);
    assert_eq!(Money::sum(Currency::USD, tenths).unwrap(), usd("100.00"));
    assert_eq!(usd("0.10").plus(usd("0.20")).unwrap(), usd("0.30"));
    assert_eq!(usd("5").minus(usd("7.5")).unwrap(), usd("-2.50"));
}

#[test]
fn tax_is_rounded_once() {
    // 8.25 % of 129.95 is 10.720875.
    let tax = usd("129.95").times(Decimal::new(825, 4)).unwrap();
    assert_eq!(tax.to_string(), "10.720875 USD");
    assert_eq!(tax.rounded().to_string(), "10.72 USD");
}

#[test]
fn two_currencies_do_not_add() {
    let euro = Money::parse("5 EUR", Currency::USD).unwrap();
    assert_eq!(usd("5").plus(euro), Err(MoneyError::TwoCurrencies(Currency::USD, Currency::EUR)));
}

#[test]
fn too_large_is_an_error_and_not_a_panic() {
    let most = Money::new(Decimal::MAX, Currency::USD);
    assert_eq!(most.plus(usd("1")), Err(MoneyError::TooLarge));
    assert_eq!(most.times(Decimal::TWO), Err(MoneyError::TooLarge));
    assert!(most.to_string().ends_with(" USD"));
    assert_eq!(most.rounded().amount(), Decimal::MAX);
}

#[test]
fn kept_text_without_a_currency_is_refused() {
    assert!(Money::try_from("129.95".to_owned()).is_err());
    assert_eq!(Money::try_from("129.95 USD".to_owned()), Ok(usd("129.95")));
}
