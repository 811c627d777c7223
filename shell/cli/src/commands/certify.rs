//! `callwright certify` and `callwright verify`: makes certificates of strong claims, and verifies them.

use crate::args::{Certify, Verify};
use crate::commands::callfile;
use crate::failure::Failure;
use crate::{output, shelf};
use certificate::{Certificate, Checked, Given, Refused, check};
use diagnosis::{Assumptions, Belief, Certified, certify, given};
use machine::model::{Machine, RepairId};
use prediction::{Meter, Predictor};
use repair::Prices;
use serde_json::json;
use std::process::ExitCode;

/// Certifies a repair, or that nothing is wrong, and verifies the certificate before it is handed out.
pub(crate) fn make(asked: &Certify, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    callfile::with_belief(&asked.callfile, meter, |belief, _| {
        let machine = belief.machine();
        let repair = claimed(asked, belief)?;
        let certified = certify(belief, repair, if_wrong(machine, repair)?);
        let certified = certified.map_err(|why| Failure::Input(why.to_string()))?;
        let certificate = &certified.certificate;
        let checked = check(machine, &certificate.given, certificate)
            .map_err(|why| Failure::Bug(format!("the checker refuses a certificate of our own: {why}")))?;
        if let Some(file) = &asked.to {
            let text = serde_json::to_string_pretty(certificate).map_err(|error| Failure::Bug(error.to_string()))?;
            let trouble = |error| Failure::SetUp(format!("cannot write `{}`: {error}", file.display()));
            std::fs::write(file, text + "\n").map_err(trouble)?;
        }
        if as_json {
            output::json(&json!({
                "certificate": certificate,
                "checked": in_json(&checked),
                "belief": { "needed": certified.needed, "alone": certified.alone },
            }));
        } else {
            print_made(machine, &certified, &checked);
        }
        Ok(ExitCode::SUCCESS)
    })
}

/// Verifies a certificate, whoever made it.
pub(crate) fn verify(asked: &Verify, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    let certificate = certificate::read(&callfile::text(&asked.certificate)?).map_err(|why| refused(&why))?;
    let verdict = match &asked.call {
        Some(call) => callfile::with_record(call, |machine, recorded| {
            let predictor = Predictor::new(machine, *meter);
            let minutes = if_wrong(machine, claims(machine, &certificate)?)?;
            let agreed = given(&predictor, &recorded.assumptions(machine), &recorded.evidence, minutes);
            let agreed = agreed.map_err(|why| Failure::Input(why.to_string()))?;
            Ok((check(machine, &agreed, &certificate), machine.clone()))
        })?,
        None => {
            let (machine, _) = shelf::load(asked.machine.as_deref().unwrap_or(&certificate.machine))?;
            let minutes = if_wrong(&machine, claims(&machine, &certificate)?)?;
            let usual = given(&Predictor::new(&machine, *meter), &Assumptions::default(), &[], minutes);
            let usual = usual.map_err(|why| Failure::Input(why.to_string()))?;
            let agreed = Given { evidence: certificate.given.evidence.clone(), ..usual };
            (check(&machine, &agreed, &certificate), machine)
        }
    };
    match verdict {
        (Ok(checked), machine) => {
            if as_json {
                output::json(&json!({ "holds": true, "claim": certificate.claim, "checked": in_json(&checked) }));
            } else {
                print_claim(&machine, &certificate, &checked);
            }
            Ok(ExitCode::SUCCESS)
        }
        (Err(why), _) if as_json => {
            output::json(&json!({ "holds": false, "claim": certificate.claim, "why": why.to_string() }));
            Ok(ExitCode::from(1))
        }
        (Err(why), _) => Err(refused(&why)),
    }
}

/// Gives the repair to certify, the likeliest where none is named; `None` for nothing wrong.
fn claimed(asked: &Certify, belief: &Belief<'_, '_>) -> Result<Option<RepairId>, Failure> {
    match &asked.repair {
        _ if asked.nothing_wrong => Ok(None),
        Some(name) => belief.machine().repair(name).map(Some).map_err(|name| Failure::Input(name.to_string())),
        None => Ok(belief.repair_shares().first().map(|(repair, _)| *repair)),
    }
}

/// Gives the repair that a certificate speaks of.
fn claims(machine: &Machine, certificate: &Certificate) -> Result<Option<RepairId>, Failure> {
    let named = certificate.claim.repair.as_ref().map(|id| machine.repair(id)).transpose();
    named.map_err(|name| Failure::Input(name.to_string()))
}

/// Gives what acting on a claim costs where it is wrong, at the usual prices, minutes.
fn if_wrong(machine: &Machine, repair: Option<RepairId>) -> Result<f64, Failure> {
    let minutes = Prices::default().minutes_if_wrong(machine, repair);
    minutes.map_err(|blocked| Failure::Input(blocked.say(&machine.access)))
}

fn print_made(machine: &Machine, certified: &Certified, checked: &Checked) {
    print_claim(machine, &certified.certificate, checked);
    output::line(&format!("The belief itself says {} and {}.", percent(certified.needed), percent(certified.alone)));
}

fn print_claim(machine: &Machine, certificate: &Certificate, checked: &Checked) {
    let claim = &certificate.claim;
    let (needed, alone) = (percent(claim.needed_at_least), percent(claim.alone_at_least));
    match claim.repair.as_ref().and_then(|id| machine.repair(id).ok()) {
        Some(repair) => {
            let say = &machine.repairs[repair.index()].say;
            output::line(&format!(
                "{}: needed with at least {needed}, enough alone with at least {alone}.",
                output::bold(say)
            ));
        }
        None => output::line(&format!("{}: with at least {alone}.", output::bold("nothing is wrong"))),
    }
    output::line(&format!(
        "Acting on it now loses at most {:.1} minutes, as expected, against the best of all plans; being wrong costs {:.0}.",
        (10.0 * checked.minutes_lost_at_most).ceil() / 10.0,
        certificate.given.minutes_if_wrong,
    ));
    output::line(&format!(
        "checked: {} singles and {} pairs excluded, each solved afresh; {} more by their weight alone",
        checked.singles_solved, checked.pairs_solved, checked.by_weight
    ));
}

fn in_json(checked: &Checked) -> serde_json::Value {
    json!({
        "needed_at_least": checked.needed_at_least,
        "alone_at_least": checked.alone_at_least,
        "minutes_lost_at_most": checked.minutes_lost_at_most,
        "singles_solved": checked.singles_solved,
        "pairs_solved": checked.pairs_solved,
        "by_weight": checked.by_weight,
    })
}

/// Shows a share, cut and not rounded: a bound must not look stronger than it is.
fn percent(share: f64) -> String {
    format!("{:.2} %", (share * 1e4).floor() / 1e2)
}

fn refused(why: &Refused) -> Failure {
    Failure::Input(why.to_string())
}
