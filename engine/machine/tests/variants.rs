//! What the reader makes of `variant`: effects by part and fault, builds by share, and mistakes with their mend.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use machine::faults::Effect;

const FAN_HEATER: &str = include_str!("good/fan-heater.toml");

fn with(variant: &str) -> machine::ReadMachine {
    machine::read(&format!("{FAN_HEATER}\n{variant}"))
}

fn heater() -> machine::model::Part {
    let machine = machine::read(FAN_HEATER).machine.unwrap();
    machine.parts.iter().find(|part| part.rated.is_some()).unwrap().clone()
}

#[test]
fn other_watts_scale_the_ohms_of_every_length_of_the_heater() {
    let (heater, watts) = (heater(), heater().rated.unwrap().watts);
    let text = format!(
        "[[variant]]\nid = \"power\"\nsay = \"the heater\"\ndescribed = \"as it is\"\noptions = [{{ id = \"more\", say = \
         \"a quarter more\", share = 0.4, watts = {{ {} = {} }} }}]\n",
        heater.id,
        watts * 1.25
    );
    let read = with(&text);
    assert!(read.diagnostics.is_empty(), "{:?}", read.diagnostics);
    let machine = read.machine.unwrap();
    let shares: Vec<f64> = machine.builds.iter().map(|build| build.share).collect();
    assert!((shares[0] - 0.6).abs() < 1e-12 && (shares[1] - 0.4).abs() < 1e-12, "{shares:?}");
    let rated = heater.rated.unwrap();
    // P = U²/R: a quarter more watts are four fifths of the ohms.
    let scaled: Vec<Effect> = rated.branches.iter().map(|&branch| Effect::Scale(branch, 0.8)).collect();
    assert_eq!(machine.builds[1].effects, scaled);
    assert!((machine.builds[1].rated(&rated.branches, rated.watts) - 1.25 * watts).abs() < 1e-9);
}

#[test]
fn a_variant_like_a_fault_has_that_faults_effects() {
    let machine = machine::read(FAN_HEATER).machine.unwrap();
    let fault = &machine.faults[0];
    let text = format!(
        "[[variant]]\nid = \"odd\"\nsay = \"it\"\ndescribed = \"usual\"\noptions = [{{ id = \"so\", say = \"so\", share = 0.2, \
         like = [\"{}\"] }}]\n",
        fault.id
    );
    assert_eq!(with(&text).machine.unwrap().builds[1].effects, fault.effects);
}

#[test]
fn mistakes_in_a_variant_are_pointed_at_with_their_mend() {
    let heater = heater().id;
    let option = |more: &str| {
        format!(
            "[[variant]]\nid = \"v\"\nsay = \"it\"\ndescribed = \"usual\"\noptions = [{{ id = \"o\", say = \"o\", {more} }}]\n"
        )
    };
    let cases = [
        (option(&format!("share = 1.0, watts = {{ {heater} = 900 }}")), "m025-shares"),
        (option("share = 0.2"), "m003-missing-key"),
        (option("share = 0.2, like = [\"nothing:open\"]"), "m012-unknown-name"),
        (option("share = 0.2, watts = { nothing = 900 }"), "m012-unknown-name"),
        (option("share = 0.2, watts = { mode = 900 }"), "m013-wrong-kind"),
        (option("share = 0.2, times = { mode = 2 }"), "m013-wrong-kind"),
        (
            option("share = 0.2, like = [\"FAULT\"] }, { id = \"o\", say = \"p\", share = 0.1, like = [\"FAULT\"]"),
            "m008-duplicate-id",
        ),
        (
            option(
                "share = 0.2, like = [\"FAULT\"] }, { id = \"described\", say = \"p\", share = 0.1, like = [\"FAULT\"]",
            ),
            "m008-duplicate-id",
        ),
        ("[[variant]]\nid = \"v\"\nsay = \"it\"\ndescribed = \"usual\"\noptions = []\n".to_owned(), "m003-missing-key"),
    ];
    let fault = &machine::read(FAN_HEATER).machine.unwrap().faults[0].id;
    for (text, code) in cases {
        let text = text.replace("FAULT", fault);
        let found: Vec<&str> = with(&text).diagnostics.iter().map(|d| d.code).collect();
        assert_eq!(found, [code], "{text}");
        assert!(with(&text).machine.is_none(), "{text}");
    }
}

#[test]
fn many_variants_with_many_options_are_multiplied_out_no_further_than_they_matter() {
    let option = |at: usize| {
        format!("{{ id = \"o{at}\", say = \"o\", share = 0.019, times = {{ {} = {} }} }}", heater().id, 2 + at)
    };
    let options = (0..50).map(option).collect::<Vec<_>>().join(", ");
    let text: String = (0..6)
        .map(|at| format!("[[variant]]\nid = \"v{at}\"\nsay = \"it\"\ndescribed = \"usual\"\noptions = [{options}]\n"))
        .collect();
    let machine = with(&text).machine.unwrap();
    assert!(machine.builds.len() <= 8 && machine.builds[0].effects.is_empty());
    assert!(machine.builds_left_out > 0.9, "{}", machine.builds_left_out);
}
