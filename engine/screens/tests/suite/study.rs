//! A machine as it is described, without a call.

use crate::shell::machine;
use book::TemperatureScale;
use machine::model::ZoneId;
use prediction::{Meter, Predictor};
use screens::{Study, Touch};

#[test]
fn every_state_can_be_drawn_and_two_probes_show_what_a_sound_machine_reads() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut study = Study::of(&predictor, TemperatureScale::Celsius);
    for state in &machine.states {
        study.touch(&Touch::State(state.id.clone()));
        let drawing = study.screen().drawing.unwrap();
        assert_eq!(drawing.state, state.id);
        assert!(drawing.svg.contains("data-terminal") && !drawing.folded);
    }
    study.touch(&Touch::Probe("heater.1".to_owned()));
    assert_eq!(study.screen().drawing.unwrap().rulers, []);
    study.touch(&Touch::Probe("heater.2".to_owned()));
    let drawing = study.screen().drawing.unwrap();
    let units: Vec<bool> =
        ["ohm", " V"].iter().zip(&drawing.rulers).map(|(unit, of)| of.healthy_say.contains(unit)).collect();
    assert_eq!(units, [true, true], "{:?}", drawing.rulers.iter().map(|of| &of.healthy_say).collect::<Vec<_>>());
    assert!(drawing.take.is_empty());
}

#[test]
fn the_heat_curve_is_the_reckoned_warm_up_in_the_scale_that_is_set() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let heats = machine.states.iter().position(|state| state.id == "heat").unwrap();
    let state = machine::model::StateId(u16::try_from(heats).unwrap());
    let zone = (0..).map(ZoneId).zip(&machine.zones).find(|(_, zone)| zone.heat.is_some()).unwrap().0;
    let warm = predictor.warm_up(state, &[], 1.0, zone, 1e4).unwrap();
    for (scale, in_scale) in [
        (TemperatureScale::Celsius, (|c| c) as fn(f64) -> f64),
        // SOURCE: 32 °F is 0 °C and 212 °F is 100 °C, by definition of the scales.
        (TemperatureScale::Fahrenheit, |c| c * 1.8 + 32.0),
    ] {
        let mut study = Study::of(&predictor, scale);
        study.touch(&Touch::State("heat".to_owned()));
        let plot = study.screen().curves.remove(0);
        let (across, upward) = (plot.marks_across.last().unwrap(), plot.marks_upward.last().unwrap());
        let (minutes, top): (f64, f64) = (across.label.parse().unwrap(), upward.label.parse().unwrap());
        assert!((across.at - 1.0).abs() < 1e-12 && (upward.at - 1.0).abs() < 1e-12);
        for &(x, y) in &plot.curves[0].points {
            let (_, celsius) =
                *warm.curve.iter().find(|(seconds, _)| (seconds / 60.0 - x * minutes).abs() < 1e-6).unwrap();
            let held = warm.lets_go_c.map_or(celsius, |most| celsius.min(most));
            assert!((y * top - in_scale(held)).abs() < 1e-6, "{x} {y}");
        }
        study.touch(&Touch::State("off".to_owned()));
        assert_eq!(study.screen().curves, []);
    }
}
