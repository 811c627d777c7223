//! An invoice or credit note in the Universal Business Language 2.1 as EN 16931 uses it. SOURCE: OASIS UBL 2.1; the order of
//! elements and the codes are those of the published examples of the Peppol BIS Billing 3.0 profile, held to in the tests.

use crate::series::say_number;
use crate::total::{Totals, totals};
use book::{DeviceId, Letterhead, PaperIssued, PaperSort, Person, TaxCategory, TaxedCharge, ZonedTime};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesStart, BytesText, Event};
use rust_decimal::Decimal;

/// What stands on the paper beside the facts of it.
#[derive(Clone, Debug)]
pub struct Around<'a> {
    /// The shop.
    pub shop: &'a Letterhead,
    /// The customer, where the sealed record can be opened.
    pub customer: Option<&'a Person>,
    /// When it was issued.
    pub issued: &'a ZonedTime,
    /// The device that issued it.
    pub device: DeviceId,
    /// The number, as said, of the invoice that a credit note takes back.
    pub takes_back: Option<String>,
}

/// Writes a paper as UBL; `None` for a receipt, which is none of its documents.
///
/// # Errors
/// None as long as memory holds; a fault of the writer is handed on.
pub fn write(paper: &PaperIssued, around: &Around<'_>) -> Result<Option<String>, String> {
    let words = match paper.sort {
        PaperSort::Invoice => Words {
            document: "Invoice",
            type_code: ("InvoiceTypeCode", "380"),
            line: "InvoiceLine",
            quantity: "InvoicedQuantity",
        },
        PaperSort::CreditNote => Words {
            document: "CreditNote",
            type_code: ("CreditNoteTypeCode", "381"),
            line: "CreditNoteLine",
            quantity: "CreditedQuantity",
        },
        PaperSort::Receipt => return Ok(None),
    };
    let taxed = paper.lines.iter().any(|line| line.category != TaxCategory::OutOfScope);
    let lines = if taxed { exempt_in_scope(&paper.lines) } else { paper.lines.clone() };
    let mut own = Paper {
        writer: Writer::new_with_indent(Vec::new(), b' ', 2),
        currency: paper.payable.currency.to_string(),
        taxed,
    };
    own.event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let space = format!("urn:oasis:names:specification:ubl:schema:xsd:{}-2", words.document);
    let root = BytesStart::new(words.document).with_attributes([
        ("xmlns", space.as_str()),
        ("xmlns:cac", "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2"),
        ("xmlns:cbc", "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"),
    ]);
    own.within(root, |own| own.body(paper, &lines, around, &words))?;
    String::from_utf8(own.writer.into_inner()).map(Some).map_err(|error| error.to_string())
}

/// Says what a letterhead lacks for a paper that others' programs take. SOURCE: EN 16931, BR-09, BR-CO-26, BR-S-02.
#[must_use]
pub fn lacks(shop: &Letterhead) -> Option<&'static str> {
    match (shop.country.is_empty(), shop.tax_number.is_empty()) {
        (false, false) => None,
        (true, false) => Some("the shop's country"),
        (false, true) => Some("the shop's tax number"),
        (true, true) => Some("the shop's country and tax number"),
    }
}

/// Beside taxed lines nothing is outside the scope of the tax; such a line is an exempt one. SOURCE: EN 16931, BR-O-11 and
/// BR-O-12.
fn exempt_in_scope(lines: &[TaxedCharge]) -> Vec<TaxedCharge> {
    let exempt = |line: &TaxedCharge| match line.category {
        TaxCategory::OutOfScope => {
            TaxedCharge { category: TaxCategory::Exempt, percent: Decimal::ZERO, ..line.clone() }
        }
        _ => line.clone(),
    };
    lines.iter().map(exempt).collect()
}

/// The scheme of every tax on a line, whatever its name at home.
const VAT: &str = "VAT";

/// What the two documents call the same things.
struct Words {
    document: &'static str,
    type_code: (&'static str, &'static str),
    line: &'static str,
    quantity: &'static str,
}

/// A paper being written.
struct Paper {
    writer: Writer<Vec<u8>>,
    currency: String,
    /// Whether any line is within the scope of the tax.
    taxed: bool,
}

/// What the writer says in words where it fails, which into memory it does not.
type Written = Result<(), String>;

impl Paper {
    fn event(&mut self, event: Event<'_>) -> Written {
        self.writer.write_event(event).map_err(|error| error.to_string())
    }

    fn within(&mut self, start: BytesStart<'_>, inside: impl FnOnce(&mut Self) -> Written) -> Written {
        let end = start.to_end().into_owned();
        self.event(Event::Start(start))?;
        inside(self)?;
        self.event(Event::End(end))
    }

    fn group(&mut self, name: &str, inside: impl FnOnce(&mut Self) -> Written) -> Written {
        self.within(BytesStart::new(name), inside)
    }

    fn text(&mut self, name: &str, text: &str) -> Written {
        self.of(BytesStart::new(name), text)
    }

    fn of(&mut self, start: BytesStart<'_>, text: &str) -> Written {
        self.within(start, |own| own.event(Event::Text(BytesText::new(text))))
    }

    fn money(&mut self, name: &str, amount: Decimal) -> Written {
        let currency = self.currency.clone();
        let start = BytesStart::new(name).with_attributes([("currencyID", currency.as_str())]);
        self.of(start, &format!("{amount:.2}"))
    }

    fn body(&mut self, paper: &PaperIssued, lines: &[TaxedCharge], around: &Around<'_>, words: &Words) -> Written {
        let sums = totals(lines);
        self.text("cbc:CustomizationID", "urn:cen.eu:en16931:2017")?;
        self.text("cbc:ID", &say_number(around.device, paper.number))?;
        self.text("cbc:IssueDate", &day_of(around.issued))?;
        if let (PaperSort::Invoice, Some(due)) = (paper.sort, &paper.due) {
            self.text("cbc:DueDate", &day_of(due))?;
        }
        self.text(&format!("cbc:{}", words.type_code.0), words.type_code.1)?;
        if let Some(why) = &paper.why {
            self.text("cbc:Note", why)?;
        }
        let currency = self.currency.clone();
        self.text("cbc:DocumentCurrencyCode", &currency)?;
        if let Some(number) = &around.takes_back {
            self.group("cac:BillingReference", |own| {
                own.group("cac:InvoiceDocumentReference", |own| own.text("cbc:ID", number))
            })?;
        }
        self.supplier(around.shop)?;
        self.customer(around.customer, around.shop)?;
        if !around.shop.account.is_empty() && paper.sort == PaperSort::Invoice {
            self.group("cac:PaymentMeans", |own| {
                own.text("cbc:PaymentMeansCode", "30")?;
                own.group("cac:PayeeFinancialAccount", |own| own.text("cbc:ID", &around.shop.account))
            })?;
        }
        self.taxes(&sums)?;
        self.group("cac:LegalMonetaryTotal", |own| {
            own.money("cbc:LineExtensionAmount", sums.net)?;
            own.money("cbc:TaxExclusiveAmount", sums.net)?;
            own.money("cbc:TaxInclusiveAmount", sums.gross)?;
            if !paper.paid_before.amount.is_zero() {
                own.money("cbc:PrepaidAmount", paper.paid_before.amount)?;
            }
            own.money("cbc:PayableAmount", paper.payable.amount)
        })?;
        for (number, line) in (1..).zip(lines) {
            self.line(number, line, words)?;
        }
        Ok(())
    }

    fn supplier(&mut self, shop: &Letterhead) -> Written {
        self.group("cac:AccountingSupplierParty", |own| {
            own.group("cac:Party", |own| {
                if !shop.tax_number.is_empty() {
                    own.group("cac:PartyIdentification", |own| own.text("cbc:ID", &shop.tax_number))?;
                }
                own.group("cac:PartyName", |own| own.text("cbc:Name", &shop.name))?;
                own.address(&shop.street, &shop.town, &shop.postcode, &shop.country)?;
                // Outside the scope of the tax the number is left out here (BR-O-02). One that begins with no country is a
                // local registration (BT-32), which any scheme but VAT says (BR-CO-09).
                if !shop.tax_number.is_empty() && own.taxed {
                    let with_country =
                        shop.tax_number.get(..2).is_some_and(|of| of.eq_ignore_ascii_case(&shop.country));
                    own.group("cac:PartyTaxScheme", |own| {
                        own.text("cbc:CompanyID", &shop.tax_number)?;
                        own.scheme(if with_country { VAT } else { "TAX" })
                    })?;
                }
                own.group("cac:PartyLegalEntity", |own| own.text("cbc:RegistrationName", &shop.name))
            })
        })
    }

    fn customer(&mut self, customer: Option<&Person>, shop: &Letterhead) -> Written {
        let name = customer.map_or("", |person| person.name.as_str());
        let name = if name.is_empty() { "customer" } else { name };
        let street = customer.and_then(|person| person.address.first()).map_or("", String::as_str);
        let town = customer.and_then(|person| person.address.get(1)).map_or("", String::as_str);
        self.group("cac:AccountingCustomerParty", |own| {
            own.group("cac:Party", |own| {
                own.address(street, town, "", &shop.country)?;
                own.group("cac:PartyLegalEntity", |own| own.text("cbc:RegistrationName", name))
            })
        })
    }

    fn address(&mut self, street: &str, town: &str, postcode: &str, country: &str) -> Written {
        self.group("cac:PostalAddress", |own| {
            for (name, text) in [("cbc:StreetName", street), ("cbc:CityName", town), ("cbc:PostalZone", postcode)] {
                if !text.is_empty() {
                    own.text(name, text)?;
                }
            }
            own.group("cac:Country", |own| {
                own.text("cbc:IdentificationCode", if country.is_empty() { "ZZ" } else { country })
            })
        })
    }

    fn scheme(&mut self, id: &str) -> Written {
        self.group("cac:TaxScheme", |own| own.text("cbc:ID", id))
    }

    fn taxes(&mut self, sums: &Totals) -> Written {
        self.group("cac:TaxTotal", |own| {
            own.money("cbc:TaxAmount", sums.tax)?;
            for ((category, percent), (taxed, tax)) in &sums.taxes {
                own.group("cac:TaxSubtotal", |own| {
                    own.money("cbc:TaxableAmount", *taxed)?;
                    own.money("cbc:TaxAmount", *tax)?;
                    own.category("cac:TaxCategory", *category, *percent, true)
                })?;
            }
            Ok(())
        })
    }

    fn category(&mut self, name: &str, category: TaxCategory, percent: Decimal, reasons: bool) -> Written {
        self.group(name, |own| {
            own.text("cbc:ID", code(category))?;
            if category != TaxCategory::OutOfScope {
                own.text("cbc:Percent", &percent.normalize().to_string())?;
            }
            let reason = match category {
                TaxCategory::Exempt => "exempt",
                TaxCategory::OutOfScope => "not subject to tax",
                TaxCategory::Rated | TaxCategory::Zero => "",
            };
            if reasons && !reason.is_empty() {
                own.text("cbc:TaxExemptionReason", reason)?;
            }
            own.scheme(VAT)
        })
    }

    fn line(&mut self, number: u32, line: &TaxedCharge, words: &Words) -> Written {
        let amount = line.charge.amount.amount;
        // A price may not be under nothing: what is taken off is a quantity under nothing. SOURCE: EN 16931, BR-27.
        let quantity = if amount.is_sign_negative() { "-1" } else { "1" };
        self.group(&format!("cac:{}", words.line), |own| {
            own.text("cbc:ID", &number.to_string())?;
            // C62 is one piece, whatever it is. SOURCE: UN/ECE Recommendation 20.
            let pieces = format!("cbc:{}", words.quantity);
            own.of(BytesStart::new(pieces).with_attributes([("unitCode", "C62")]), quantity)?;
            own.money("cbc:LineExtensionAmount", amount)?;
            own.group("cac:Item", |own| {
                own.text("cbc:Name", &line.charge.what)?;
                own.category("cac:ClassifiedTaxCategory", line.category, line.percent, false)
            })?;
            own.group("cac:Price", |own| own.money("cbc:PriceAmount", amount.abs()))
        })
    }
}

/// The letter of a category. SOURCE: UNTDID 5305, from memory.
fn code(category: TaxCategory) -> &'static str {
    match category {
        TaxCategory::Rated => "S",
        TaxCategory::Zero => "Z",
        TaxCategory::Exempt => "E",
        TaxCategory::OutOfScope => "O",
    }
}

fn day_of(time: &ZonedTime) -> String {
    time.on_the_wall().map_or_else(String::new, |wall| wall.date().to_string())
}
