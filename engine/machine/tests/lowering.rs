//! What the fixtures lower to, reckoned by hand from their text and from docs/machine-format.md.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use machine::Machine;
use machine::faults::{Effect, RepairKind};
use machine::model::{Conductor, FlagRule, Law, Need, Observed, PartKind, ProofHow, Rule};
use machine::read;
use rust_decimal::Decimal;

fn text_of(name: &str) -> String {
    std::fs::read_to_string(format!("{}/tests/good/{name}.toml", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn machine_of(text: &str) -> Machine {
    let result = read(text);
    let printed: Vec<String> = result.diagnostics.iter().map(|d| d.render("file.toml", text)).collect();
    result.machine.unwrap_or_else(|| panic!("{}", printed.join("\n")))
}

fn fixture(name: &str) -> Machine {
    machine_of(&text_of(name))
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs().max(1e-9)
}

fn names(machine: &Machine, part: &str) -> Vec<String> {
    let faults = machine.faults_of(machine.part(part).unwrap());
    faults.into_iter().map(|id| machine[id].id.split(':').nth(1).unwrap().to_owned()).collect()
}

/// By hand: 5 parts of the supply, 16 of its own, 28 leads. Terminals: 16 of the supply (EARTH, tap, two legs, two pole
/// ends, three slots, three blades, three block terminals, CH); bake 3, board 7, probe 2, contactor 6, fan 6, cap 2,
/// plug-in 4, door 2, bell 2, light 2, fuse 2, splice 2, clock 4. Branches: 16 of the supply (two sources, one load,
/// the utility neutral, two poles, three conductors of three, the strap), 25 of the parts, 28 leads.
#[test]
fn oven_lowers_to_the_counts_reckoned_by_hand() {
    let machine = fixture("oven");
    assert_eq!(machine.parts.len(), 5 + 16 + 28);
    assert_eq!(machine.terminals.len(), 16 + 44);
    assert_eq!(machine.branches.len(), 16 + 25 + 28);
    let flags: Vec<&str> = machine.flags.iter().map(|flag| flag.name.as_str()).collect();
    assert_eq!(flags, ["breaker:tripped", "board:alive", "board:relay", "board:fan", "contactor:pulled", "fan:runs"]);
    // 21 of the supply, 46 of the parts, one for each lead and one more for each of the five of 12 gauge or thicker.
    assert_eq!(machine.faults.len(), 21 + 46 + 28 + 5);
}

#[test]
fn legs_are_sources_against_the_hidden_tap_and_half_a_turn_apart() {
    let machine = fixture("oven");
    let sources: Vec<(f64, f64, f64)> = ["house:leg1", "house:leg2"]
        .into_iter()
        .map(|name| {
            let branch = &machine[machine.branch(name).unwrap()];
            assert_eq!(machine[branch.to].name, "house.N");
            assert!(machine[branch.to].hidden && machine[branch.from].hidden);
            match branch.law {
                Law::Source { volts, degrees, series_ohms, .. } => (volts, degrees, series_ohms),
                _ => panic!("{name} is no source"),
            }
        })
        .collect();
    assert_eq!(sources, [(120.0, 0.0, 0.04), (120.0, 180.0, 0.04)]);
    let neutral = &machine[machine.branch("house:neutral").unwrap()];
    assert_eq!(machine[neutral.from].name, "house.N");
    assert_eq!(neutral.to, machine.supply.earth);
}

#[test]
fn two_of_three_phases_stand_a_third_of_a_turn_apart_and_weaken_a_240_volt_heater() {
    let machine = machine_of(&text_of("oven").replace("\"split-phase\"", "\"two-of-three-phases\""));
    let Law::Source { degrees, .. } = machine[machine.branch("house:leg2").unwrap()].law else { panic!() };
    assert!(near(degrees, 120.0));
    let heat = &machine[machine.observation("bake").unwrap()];
    let Observed::Heats { rated_watts, .. } = heat.of else { panic!() };
    // 3000 W at 240 V give 3000 * (120 * sqrt 3 / 240)² = 2250 W.
    assert!(near(rated_watts, 2250.0), "{rated_watts}");
}

#[test]
fn house_load_stands_between_leg_and_neutral_bar() {
    let machine = fixture("oven");
    let load = &machine[machine.branch("house:load1").unwrap()];
    assert_eq!((machine[load.from].name.as_str(), load.to), ("house.L1", machine.supply.earth));
    let Law::Resistance(law) = load.law else { panic!() };
    assert!(near(law.hot_ohms, 120.0 * 120.0 / 900.0));
    assert!(machine.branch("house:load2").is_err(), "no load of 0 W");
}

#[test]
fn three_wire_cord_has_a_strap_and_no_ground() {
    let machine = fixture("oven");
    let conductors: Vec<Conductor> = machine.supply.slots.iter().map(|slot| slot.0).collect();
    assert_eq!(conductors, [Conductor::Leg1, Conductor::Leg2, Conductor::Neutral]);
    assert!(machine.terminal("plug.G").is_err());
    let strap = &machine[machine.branch("block:strap").unwrap()];
    assert_eq!((machine[strap.from].name.as_str(), strap.to), ("block.N", machine.supply.frame));
    assert_eq!(names(&machine, "block"), ["l1-burnt", "l2-burnt", "n-loose", "strap-missing"]);
}

#[test]
fn four_wire_cord_has_a_ground_and_a_strap_only_as_a_fault() {
    let machine = machine_of(&text_of("oven").replace("\"three-wire\"", "\"four-wire\""));
    assert!(machine.branch("block:strap").is_err());
    let left = &machine[machine.fault("block:strap-left").unwrap()];
    assert!(left.dangerous);
    let neutral = machine.terminal("block.N").unwrap();
    assert!(matches!(left.effects[..], [Effect::Bridge(from, to, _)] if from == neutral && to == machine.supply.frame));
    let ground = &machine[machine.branch("cord:G").unwrap()];
    assert_eq!(ground.to, machine.supply.frame);
    assert!(machine[machine.fault("cord:g-open").unwrap()].dangerous);
}

#[test]
fn unplugging_opens_every_contact_and_a_disconnect_only_the_legs() {
    assert_eq!(fixture("oven").supply.plug.len(), 3);
    let fixed = machine_of(&text_of("oven").replace("receptacle = \"10-50\"\n", ""));
    let opened: Vec<&str> = fixed.supply.plug.iter().map(|id| fixed[*id].name.as_str()).collect();
    assert_eq!(opened, ["cord:plug-X", "cord:plug-Y"]);
    assert_eq!(fixed.supply.receptacle, None);
    assert_eq!(fixed[fixed.part("receptacle").unwrap()].name, "disconnect");
}

#[test]
fn faults_of_the_supply_change_what_they_say() {
    let machine = fixture("oven");
    let effects = |name: &str| machine[machine.fault(name).unwrap()].effects.clone();
    let branch = |name: &str| machine.branch(name).unwrap();
    assert_eq!(effects("house:neutral-open"), [Effect::Open(branch("house:neutral"))]);
    assert_eq!(effects("house:leg2-lost"), [Effect::Open(branch("house:leg2"))]);
    assert_eq!(effects("receptacle:w-open"), [Effect::Open(branch("receptacle:W"))]);
    assert_eq!(effects("breaker:off"), [Effect::Hold(machine.flag("breaker:tripped").unwrap(), true)]);
    assert!(near(machine[machine.fault("house:leg2-lost").unwrap()].weight, 2.0), "the file's weight");
    assert!(near(machine[machine.fault("block:l1-burnt").unwrap()].visible, 1.0), "the file's chance");
    let kind = |name: &str| machine[machine[machine.fault(name).unwrap()].repair].kind;
    assert_eq!(kind("house:low"), RepairKind::Refer);
    assert_eq!(kind("breaker:pole1-open"), RepairKind::Refer);
    assert_eq!(kind("breaker:off"), RepairKind::Clean);
    assert_eq!(kind("cord:unplugged"), RepairKind::Clean);
    assert_eq!(kind("cord:x-open"), RepairKind::Replace);
}

/// 3000 W at 240 V are 19.2 ohms hot and 0.94 of it cold, of which 0.3 lie before the place that touches the frame.
#[test]
fn heater_is_two_lengths_that_add_up_to_its_rating_and_tolerance() {
    let machine = fixture("oven");
    let lengths: Vec<_> = ["bake:a", "bake:b"]
        .into_iter()
        .map(|name| match machine[machine.branch(name).unwrap()].law {
            Law::Resistance(law) => law,
            _ => panic!("{name} is no resistance"),
        })
        .collect();
    assert!(near(lengths[0].hot_ohms, 19.2 * 0.3));
    assert!(near(lengths.iter().map(|l| l.hot_ohms).sum(), 19.2));
    assert!(near(lengths.iter().map(|l| l.cold_ohms).sum(), 19.2 * 0.94));
    let spread = lengths.iter().map(|l| l.hot_ohms * l.tolerance).map(|half| half * half).sum::<f64>().sqrt();
    assert!(near(spread / 19.2, 0.07));
    let grounded = &machine[machine.fault("bake:grounded").unwrap()];
    let Effect::Bridge(from, to, _) = grounded.effects[0] else { panic!() };
    assert!(machine[from].hidden && to == machine.supply.frame && grounded.dangerous);
}

#[test]
fn heater_grounded_at_its_end_needs_no_hidden_point() {
    let machine = fixture("fan-heater");
    assert_eq!(machine.branches_of(machine.part("element-high").unwrap()).len(), 1);
    let grounded = &machine[machine.fault("element-high:grounded").unwrap()];
    let one = machine.terminal("element-high.1").unwrap();
    assert!(matches!(grounded.effects[..], [Effect::Bridge(from, _, _)] if from == one));
    assert!(machine.fault("element-high:part-shorted").is_err(), "weight 0 takes a usual fault away");
}

#[test]
fn control_closes_an_output_in_its_states_while_supply_and_needs_hold() {
    let machine = fixture("oven");
    let FlagRule::Output { requested_in, needs } = &machine[machine.flag("board:relay").unwrap()].rule else {
        panic!()
    };
    assert_eq!(*requested_in, [machine.state("bake").unwrap()]);
    let (line, neutral) = (machine.terminal("board.L").unwrap(), machine.terminal("board.N").unwrap());
    let [Need::Volts { from, to, at_least }, Need::Sense { source, code, .. }] = &needs[..] else { panic!() };
    assert_eq!((*from, *to), (line, neutral));
    assert!(near(*at_least, 90.0));
    assert_eq!(code.as_deref(), Some("F3"));
    let Law::Source { volts, series_ohms, .. } = machine[*source].law else { panic!() };
    assert!(near(volts, 5.0) && near(series_ohms, 1000.0));
    let FlagRule::Output { requested_in, .. } = &machine[machine.flag("board:alive").unwrap()].rule else { panic!() };
    assert_eq!(requested_in.len(), machine.states.len());
    let dead: Vec<Effect> = ["board:alive", "board:relay", "board:fan"]
        .into_iter()
        .map(|flag| Effect::Hold(machine.flag(flag).unwrap(), false))
        .collect();
    assert_eq!(machine[machine.fault("board:dead").unwrap()].effects, dead);
    assert_eq!(machine[machine.fault("board:sensor-blind").unwrap()].effects, [Effect::Open(*source)]);
}

#[test]
fn relay_and_motor_move_their_contacts_by_flags() {
    let machine = fixture("oven");
    let pulled = machine.flag("contactor:pulled").unwrap();
    let runs = machine.flag("fan:runs").unwrap();
    let rule = |name: &str| match &machine[machine.branch(name).unwrap()].law {
        Law::Contact { rule: Rule::Flag { flag, inverted }, .. } => (*flag, *inverted),
        _ => panic!("{name} is moved by no flag"),
    };
    assert_eq!(rule("contactor:c1"), (pulled, false));
    assert_eq!(rule("contactor:c2"), (pulled, true));
    assert_eq!(rule("fan:c1"), (runs, false));
    assert_eq!(rule("fan:start-switch"), (runs, true));
    let FlagRule::Motor { run, start, hold_volts, load_share, .. } = machine[runs].rule else { panic!() };
    assert_eq!(machine[run].name, "fan:run");
    assert_eq!(machine[start.unwrap()].name, "fan:start");
    assert!(near(hold_volts, 72.0) && near(load_share, 0.5));
}

#[test]
fn what_seizes_down_the_drive_holds_the_motor_still() {
    let machine = fixture("oven");
    let (belt, drum) = (machine.part("coupling").unwrap(), machine.part("spit").unwrap());
    assert_eq!(machine[drum].driven_by, [belt]);
    assert_eq!(machine[belt].driven_by, [machine.part("fan").unwrap()]);
    let runs = machine.flag("fan:runs").unwrap();
    assert_eq!(
        machine[machine.fault("spit:seized").unwrap()].effects,
        [Effect::Stops(drum), Effect::Hold(runs, false)]
    );
    assert_eq!(machine[machine.fault("coupling:broken").unwrap()].effects, [Effect::Stops(belt)]);
}

#[test]
fn lead_is_one_branch_of_copper_with_a_name_a_person_says() {
    let machine = fixture("fan-heater");
    let lead = machine.part("4").unwrap();
    assert_eq!(machine[lead].name, "red lead from room thermostat 2 to first element 1");
    assert_eq!(machine[lead].kind, PartKind::Lead);
    assert_eq!(machine[lead].color.as_deref(), Some("red"));
    let branches = machine.branches_of(lead);
    assert_eq!(branches.len(), 1);
    let Law::Resistance(law) = machine[branches[0]].law else { panic!() };
    // 12 AWG: 5.211 ohms for 1000 m of solid copper at 20 °C (ASTM B258 and IEC 60028, from memory); 0.3 m of it.
    assert!((law.cold_ohms - 0.3 * 5.211e-3).abs() < 1e-5, "{}", law.cold_ohms);
    assert_eq!(names(&machine, "4"), ["open", "burnt"]);
    assert_eq!(names(&machine, "3"), ["open"], "thin leads burn no joint");
    assert!(near(machine[machine.fault("5:open").unwrap()].weight, 0.8), "`weight` scales");
    let repair = &machine[machine.repair("4:mend").unwrap()];
    assert_eq!((repair.price, repair.kind), (Decimal::new(400, 2), RepairKind::Mend));
}

#[test]
fn zone_has_the_heat_that_the_file_gives_it() {
    let machine = fixture("oven");
    let heat = machine.zones.first().unwrap().heat.as_ref().unwrap();
    assert!(near(heat.capacity, 9000.0) && near(heat.loses, 2.0));
    let (capacity, couples) = heat.lag.unwrap();
    assert!(near(capacity, 400.0) && near(couples, 5.0));
    let wall = heat.wall.unwrap();
    assert!(near(wall.capacity, 25_000.0) && near(wall.couples, 12.0) && near(wall.loses, 3.0));
    let (part, branches) = heat.heaters.first().unwrap();
    assert_eq!(*part, machine.part("bake").unwrap());
    // The element's two lengths, before and behind where it touches the frame when grounded.
    assert_eq!(branches.len(), 2);
    assert!(branches.iter().all(|branch| machine.branches[branch.index()].part == *part));
    let machine = fixture("fan-heater");
    assert!(machine.zones[0].heat.is_none());
    let heat = machine.zones[1].heat.as_ref().unwrap();
    assert!(heat.lag.is_none() && heat.wall.is_none());
}

#[test]
fn states_take_over_what_they_do_not_set() {
    let machine = fixture("fan-heater");
    let inside = 1;
    let temperatures: Vec<f64> = machine.states.iter().map(|state| state.temperatures_c[inside]).collect();
    assert_eq!(temperatures, [22.0, 40.0, 40.0]);
    assert_eq!(machine.states[2].entered_from, Some(machine.state("low").unwrap()));
    assert_eq!(machine.states[0].entered_from, None);
    let oven = fixture("oven");
    let cool = &oven[oven.state("cool").unwrap()];
    let positions: Vec<(&str, &str)> =
        cool.positions.iter().map(|(part, position)| (oven[*part].id.as_str(), position.as_str())).collect();
    assert_eq!(positions, [("door", "shut"), ("bell", "out"), ("clock", "on")]);
    assert_eq!(cool.pressed, [(oven.part("bell").unwrap(), "in".to_owned())]);
}

#[test]
fn parts_changed_in_the_same_go_share_one_repair() {
    let machine = fixture("fan-heater");
    let repair = |fault: &str| machine[machine.fault(fault).unwrap()].repair;
    assert_eq!(repair("cut-off:open"), repair("element-low:open"));
    let shared = &machine[repair("cut-off:open")];
    assert_eq!(shared.say, "replace the thermal cut-off together with the first element");
    assert_eq!(shared.price, Decimal::new(4050, 2));
    assert_eq!(shared.together, [machine.part("element-low").unwrap()]);
    assert_eq!(machine.faults_of_repair(repair("cut-off:open")).len(), 4);
    assert_ne!(repair("pilot:open"), repair("pilot:dirty"), "`mend` of a fault");
}

#[test]
fn causes_and_own_faults_are_looked_up() {
    let machine = fixture("fan-heater");
    let causes: Vec<(&str, f64)> = machine[machine.fault("cut-off:open").unwrap()]
        .caused_by
        .iter()
        .map(|(id, share)| (machine[*id].id.as_str(), *share))
        .collect();
    assert_eq!(causes, [("fan:seized", 0.5), ("blades:slips", 0.2)]);
    let dirty = &machine[machine.fault("pilot:dirty").unwrap()];
    assert_eq!(dirty.effects, [Effect::Scale(machine.branch("pilot").unwrap(), 3.0)]);
    assert_eq!(dirty.say, "covered in dust");
}

#[test]
fn observations_have_their_values_in_the_fixed_order_with_sentences() {
    let machine = fixture("fan-heater");
    let said = |id: &str| -> Vec<(String, String)> {
        let observation = &machine[machine.observation(id).unwrap()];
        observation.values.iter().map(|value| (value.id.clone(), value.say.clone())).collect()
    };
    let pairs = |list: &[(&str, &str)]| -> Vec<(String, String)> {
        list.iter().map(|(id, say)| ((*id).to_owned(), (*say).to_owned())).collect()
    };
    assert_eq!(
        said("heat"),
        pairs(&[
            ("none", "the heater does not heat"),
            ("weak", "the heater heats weakly"),
            ("full", "the heater heats as it should")
        ])
    );
    assert_eq!(said("air")[0], ("none".to_owned(), "no air comes out".to_owned()), "the file's sentence");
    let heat = &machine[machine.observation("heat").unwrap()];
    let Observed::Heats { branches, rated_watts, air } = &heat.of else { panic!() };
    assert_eq!(branches.len(), 3);
    assert!(near(*rated_watts, 1450.0));
    assert_eq!(*air, Some(machine.part("blades").unwrap()));
    let oven = fixture("oven");
    let display = &oven[oven.observation("display").unwrap()];
    let ids: Vec<&str> = display.values.iter().map(|value| value.id.as_str()).collect();
    assert_eq!(ids, ["dark", "normal", "F3"]);
}

#[test]
fn proofs_name_terminals_conductors_and_states() {
    let machine = fixture("fan-heater");
    let ProofHow::Amps { branch, state } = machine.proofs[1].how else { panic!() };
    assert_eq!((machine[branch].name.as_str(), state), ("cord:X", machine.state("high").unwrap()));
    let oven = fixture("oven");
    let ProofHow::Amps { branch, .. } = oven.proofs[2].how else { panic!() };
    assert_eq!(oven[branch].name, "B3");
    let ProofHow::Ohms { at_least, insulation_test, .. } = oven.proofs[0].how else { panic!() };
    assert!(insulation_test && at_least == Some(1e6));
}

#[test]
fn names_are_found_and_the_nearest_offered() {
    let machine = fixture("oven");
    assert_eq!(machine.say_terminal(machine.terminal("bake.1").unwrap()), "bake element 1");
    assert_eq!(machine.say_terminal(machine.supply.frame), "the frame");
    let wrong = machine.terminal("bake.l").unwrap_err();
    assert_eq!(wrong.to_string(), "there is no terminal `bake.l`; did you mean `bake.1`?");
    assert!(machine.terminal("house.L1").is_err(), "no probe reaches a hidden point");
    assert_eq!(machine.part("motor of the spit").unwrap_err().nearest, None);
}

#[test]
fn leads_at_a_terminal_are_those_that_end_there() {
    let machine = fixture("oven");
    let at = machine.terminal("board.S2").unwrap();
    let leads: Vec<&str> = machine.leads_at(at).into_iter().map(|id| machine[id].name.as_str()).collect();
    assert_eq!(leads, ["S2", "S5"]);
    assert_eq!(machine.branches_at(at).len(), 3, "and the board's own source");
    let near = machine.terminals_near(machine.terminal("door.1").unwrap());
    assert!(near.contains(&machine.terminal("door.2").unwrap()));
    assert!(!near.contains(&machine.terminal("bake.1").unwrap()), "that is in another place");
}

#[test]
fn reading_twice_gives_the_same_machine() {
    let text = text_of("oven");
    assert_eq!(format!("{:?}", read(&text)), format!("{:?}", read(&text)));
}

#[test]
fn the_frame_stands_at_a_place_of_its_own_that_no_cover_hides() {
    let machine = fixture("oven");
    let place = &machine.access.places[machine[machine.supply.frame].place.index()];
    assert_eq!((place.id.as_str(), &place.exposed_by), ("bare-frame", &vec![Vec::new()]));
    let elsewhere = machine.terminals.iter().filter(|terminal| terminal.name != "CH");
    assert!(elsewhere.into_iter().all(|terminal| machine.access.places[terminal.place.index()].id != "bare-frame"));
}
