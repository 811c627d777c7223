//! What every drawing must hold to, over the shipped machines and over machines put together at random.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

#[path = "support/checker.rs"]
mod support;

use drawing::scene::{LabelOf, Point, Scene};
use drawing::svg::{Paper, svg};
use drawing::{Layers, Question, Volts, draw};
use machine::Machine;
use machine::model::{BranchId, Law, PartId, PartKind, TerminalId};
use proptest::prelude::{ProptestConfig, Strategy, any, prop_assert, proptest};
use std::collections::BTreeMap;
use support::{joined, tied, wrong};

/// One leg and neutral; a residual-current device; wired in fixed.
const SMALL: [&str; 4] = [
    include_str!("../../machine/tests/good/fan-heater.toml"),
    include_str!("../../machine/tests/good/guarded-kettle.toml"),
    include_str!("../../machine/tests/good/motor-torque.toml"),
    include_str!("../../machine/tests/good/oven.toml"),
];

/// Least size of print on the page for the shipped machines, points: all of a range with five elements on one page. Common
/// practice, no source: the smallest print of
/// wiring sheets is about 4 points.
const LEAST_POINTS: f64 = 4.0;
/// The same for machines of up to 80 parts tangled at random, rungs that end anywhere on each other: a
/// guard against waste, no promise.
const LEAST_POINTS_TANGLED: f64 = 1.0;
/// The same for a plain ladder of 80 parts beside their leads.
const LEAST_POINTS_OF_80: f64 = 3.5;
const POINTS_FOR_A_MM: f64 = 72.0 / 25.4;

fn shipped() -> impl Iterator<Item = Machine> {
    shipped::ALL.iter().map(|one| one.read().unwrap())
}

/// Everything shown at once: the fullest a drawing can be.
fn full(machine: &Machine) -> Question {
    let terminals = || (0..machine.terminals.len()).map(|at| TerminalId(u16::try_from(at).unwrap()));
    let branches = || (0..machine.branches.len()).map(|at| BranchId(u16::try_from(at).unwrap()));
    let parts = (0..machine.parts.len()).map(|at| PartId(u16::try_from(at).unwrap()));
    let layers = Layers {
        state: Some("timed dry on high, started, air still cool".to_owned()),
        faults: vec!["the heating element is burnt through".to_owned()],
        closed: Some(branches().filter(|id| id.0 % 2 == 0).collect()),
        amps: branches().map(|id| (id, 12.5)).collect(),
        volts: terminals()
            .map(|id| (id, if id.0 % 3 == 0 { Volts::Floats(120.0) } else { Volts::Value(120.4) }))
            .collect(),
        against: Some("neutral".to_owned()),
        live: Some(terminals().collect()),
        red: terminals().nth(20),
        black: terminals().nth(23),
        suspects: parts.map(|id| (id, 0.25)).collect(),
    };
    Question { only: None, layers }
}

fn least_points(scene: &Scene) -> f64 {
    let size = scene.labels.iter().map(|label| label.size).fold(f64::INFINITY, f64::min);
    [Paper::A4, Paper::Letter]
        .map(|paper| size * paper.scale(scene) * POINTS_FOR_A_MM)
        .into_iter()
        .fold(f64::INFINITY, f64::min)
}

/// Ends of every lead in the scene.
fn lead_ends(scene: &Scene) -> BTreeMap<&str, Vec<(Point, Point)>> {
    let mut ends: BTreeMap<&str, Vec<(Point, Point)>> = BTreeMap::new();
    for wire in &scene.wires {
        if let Some(lead) = &wire.lead {
            ends.entry(lead).or_default().push((wire.points[0], *wire.points.last().unwrap()));
        }
    }
    ends
}

/// Says what of the machine is not drawn exactly once, or not where it belongs.
fn untrue(machine: &Machine, scene: &Scene) -> Vec<String> {
    let mut untrue = Vec::new();
    let (ends, groups) = (lead_ends(scene), tied(scene));
    let at = |terminal: TerminalId| {
        let name = &machine[terminal].name;
        let mut dots = scene.terminals.iter().filter(|dot| dot.terminal == *name);
        let first = dots.next().map(|dot| dot.at);
        first.filter(|_| dots.next().is_none())
    };
    for (id, terminal) in (0..).map(TerminalId).zip(&machine.terminals).filter(|(_, terminal)| !terminal.hidden) {
        if at(id).is_none() {
            untrue.push(format!("terminal `{}` is not drawn once", terminal.name));
        }
    }
    for part in machine.parts.iter().filter(|part| part.kind == PartKind::Lead) {
        let (Some([drawn]), [from, to]) = (ends.get(part.id.as_str()).map(Vec::as_slice), part.terminals.as_slice())
        else {
            untrue.push(format!("lead `{}` is not drawn once", part.id));
            continue;
        };
        let (Some(from), Some(to)) = (at(*from), at(*to)) else { continue };
        let straight = joined(scene, &groups, from, drawn.0) && joined(scene, &groups, to, drawn.1);
        let turned = joined(scene, &groups, from, drawn.1) && joined(scene, &groups, to, drawn.0);
        if !straight && !turned {
            untrue.push(format!("lead `{}` ends elsewhere", part.id));
        }
    }
    untrue.extend(parts_drawn_wrong(machine, scene));
    untrue
}

fn parts_drawn_wrong(machine: &Machine, scene: &Scene) -> Vec<String> {
    let mut wrong = Vec::new();
    for (id, part) in (0..).map(PartId).zip(&machine.parts).filter(|(_, part)| part.kind != PartKind::Lead) {
        let symbols: Vec<_> = scene.symbols.iter().filter(|symbol| symbol.part == part.id).collect();
        if symbols.is_empty() {
            wrong.push(format!("part `{}` is not drawn", part.id));
        }
        if part.installation {
            continue;
        }
        for branch in machine.branches_of(id).into_iter().filter(|branch| !machine.leaks.contains(branch)) {
            let name = &machine[branch].name;
            let drawn = symbols.iter().filter(|symbol| symbol.branches.contains(name)).count();
            if drawn != 1 {
                wrong.push(format!("branch `{name}` is drawn {drawn} times"));
            }
        }
        if machine.branches_of(id).is_empty() && symbols.len() != 1 {
            wrong.push(format!("part `{}` is drawn {} times", part.id, symbols.len()));
        }
    }
    wrong
}

/// Says what the list of words leaves out.
fn unsaid(machine: &Machine, scene: &Scene) -> Vec<String> {
    let text = drawing::words::text(scene);
    let missing = |part: &&machine::model::Part| match part.kind {
        PartKind::Lead => {
            !text.lines().any(|line| line.trim().starts_with(&format!("lead {},", part.id)) || line.contains(&part.id))
        }
        _ => !text.contains(&part.name),
    };
    machine.parts.iter().filter(missing).map(|part| part.id.clone()).collect()
}

fn hold(machine: &Machine, question: &Question) -> Scene {
    let scene = draw(machine, question);
    assert_eq!(wrong(&scene), Vec::<String>::new(), "{}", machine.id);
    assert_eq!(untrue(machine, &scene), Vec::<String>::new(), "{}", machine.id);
    assert_eq!(unsaid(machine, &scene), Vec::<String>::new(), "{}", machine.id);
    assert_eq!(scene, draw(machine, question), "{}: not the same twice", machine.id);
    scene
}

#[test]
fn shipped_machines_are_drawn_whole_with_nothing_crossed_and_no_label_overlapped() {
    for machine in shipped() {
        hold(&machine, &Question::default());
        hold(&machine, &full(&machine));
    }
}

#[test]
fn small_machines_of_other_supplies_are_drawn_whole_too() {
    for text in SMALL {
        let machine = machine::read(text).machine.unwrap();
        hold(&machine, &Question::default());
        hold(&machine, &full(&machine));
    }
}

#[test]
fn layers_move_nothing() {
    for machine in shipped() {
        let (plain, full) = (draw(&machine, &Question::default()), draw(&machine, &full(&machine)));
        let places =
            |scene: &Scene| scene.terminals.iter().map(|dot| (dot.terminal.clone(), dot.at)).collect::<Vec<_>>();
        assert_eq!(places(&plain), places(&full), "{}", machine.id);
    }
}

#[test]
fn shipped_machines_print_on_one_page_in_legible_size() {
    for machine in shipped() {
        let points = least_points(&draw(&machine, &full(&machine)));
        assert!(points >= LEAST_POINTS, "{}: {points:.1} points", machine.id);
    }
}

#[test]
fn current_path_is_thick_from_rail_to_rail_and_nowhere_else() {
    let machine = shipped().next().unwrap();
    let heat = [
        "B1",
        "timer:c1",
        "R1",
        "temperature:c1",
        "R2",
        "harness:p1",
        "R3",
        "cycling",
        "R4",
        "high-limit",
        "R5",
        "cut-off",
        "R6",
        "heater:a",
        "heater:b",
        "R7",
        "motor:c1",
        "R8",
    ];
    let amps = heat.iter().map(|name| (machine.branch(name).unwrap(), 22.0)).collect();
    let scene = draw(&machine, &Question { only: None, layers: Layers { amps, ..Layers::default() } });
    let thick: Vec<&str> =
        scene.wires.iter().filter(|wire| wire.current).filter_map(|wire| wire.lead.as_deref()).collect();
    let mut leads: Vec<&str> =
        heat.into_iter().filter(|name| machine.part(name).is_ok_and(|id| machine[id].kind == PartKind::Lead)).collect();
    leads.sort_unstable();
    let mut drawn = thick.clone();
    drawn.sort_unstable();
    assert_eq!(drawn, leads);
    // The lamp's rung is dead, so its rail below the heat's rungs is thin.
    let lamp = scene.symbols.iter().find(|symbol| symbol.part == "lamp").unwrap();
    assert!(lamp.amps.is_none());
    let thick_rails = scene.wires.iter().filter(|wire| wire.current && wire.lead.is_none() && wire.part.is_none());
    assert!(thick_rails.count() >= 2);
}

#[test]
fn contacts_stand_as_they_are_told_and_else_as_at_rest() {
    for machine in shipped() {
        let scene = draw(&machine, &Question::default());
        let all: Vec<BranchId> = (0..machine.branches.len()).map(|at| BranchId(u16::try_from(at).unwrap())).collect();
        let layers = Layers { closed: Some(all), ..Layers::default() };
        let closed = draw(&machine, &Question { only: None, layers });
        assert!(closed.symbols.iter().filter_map(|symbol| symbol.closed).all(|closed| closed));
        assert!(scene.symbols.iter().any(|symbol| symbol.closed == Some(false)), "{}", machine.id);
        let moving = machine.branches.iter().filter(|branch| matches!(branch.law, Law::Contact { .. })).count();
        assert!(moving >= scene.symbols.iter().filter(|symbol| symbol.closed.is_some()).count() / 2);
    }
}

#[test]
fn folding_keeps_the_ways_through_what_is_asked_for_and_says_what_is_gone() {
    let machine = shipped().next().unwrap();
    let only = Some(vec![machine.part("lamp").unwrap()]);
    let scene = draw(&machine, &Question { only, layers: Layers::default() });
    assert_eq!(wrong(&scene), Vec::<String>::new());
    let mut leads: Vec<&str> = scene.wires.iter().filter_map(|wire| wire.lead.as_deref()).collect();
    leads.sort_unstable();
    assert_eq!(leads, ["P1", "P2", "W4"]);
    assert!(scene.folded.contains(&"heater".to_owned()) && !scene.folded.contains(&"door".to_owned()));
    assert!(drawing::words::text(&scene).contains("Folded away: "));
}

#[test]
fn scene_names_the_machine_s_own_ids_and_goes_to_json() {
    for machine in shipped() {
        let scene = draw(&machine, &full(&machine));
        assert!(scene.terminals.iter().all(|dot| machine.terminal(&dot.terminal).is_ok()));
        assert!(scene.symbols.iter().all(|symbol| machine.part(&symbol.part).is_ok()));
        assert!(scene.labels.iter().all(|label| match &label.of {
            LabelOf::Part(id) | LabelOf::Lead(id) | LabelOf::Share(id) => machine.part(id).is_ok(),
            LabelOf::Terminal(name) | LabelOf::Volts(name) => machine.terminal(name).is_ok(),
            LabelOf::Rail | LabelOf::Title | LabelOf::Note => true,
        }));
        let json = serde_json::to_value(&scene).unwrap();
        assert_eq!(json["terminals"].as_array().unwrap().len(), scene.terminals.len());
    }
}

#[test]
fn hit_places_are_48_pixels_wide_when_magnified_as_stated() {
    for machine in shipped() {
        let scene = draw(&machine, &Question::default());
        let pixels = scene.touch.pixels_for_a_unit;
        assert!(scene.terminals.iter().all(|dot| dot.hit.w * pixels >= 48.0 && dot.hit.h * pixels >= 48.0));
    }
}

#[test]
fn svg_has_no_script_fetches_nothing_and_shows_every_terminal() {
    for machine in shipped() {
        let scene = draw(&machine, &full(&machine));
        for paper in [None, Some(Paper::A4), Some(Paper::Letter)] {
            let text = svg(&scene, paper);
            assert!(!text.contains("<script") && !text.contains("href") && !text.contains("@import"));
            assert_eq!(text.matches("data-terminal=").count(), scene.terminals.len());
            assert_eq!(text.matches("<g ").count(), text.matches("</g>").count());
        }
    }
}

/// A rung: what is in series, where it starts and ends.
#[derive(Clone, Debug)]
struct Rung {
    kinds: Vec<u8>,
    from: u8,
    to: u8,
}

fn rungs(most_parts: usize) -> impl Strategy<Value = (Vec<Rung>, bool)> {
    let kinds = proptest::collection::vec(0_u8..8, 1..7);
    let rung = (kinds, any::<u8>(), any::<u8>()).prop_map(|(kinds, from, to)| Rung { kinds, from, to });
    let rungs = proptest::collection::vec(rung, 1..24).prop_map(move |mut rungs| {
        let mut parts = 0;
        rungs.retain(|rung| {
            parts += rung.kinds.len();
            parts <= most_parts
        });
        rungs
    });
    (rungs, any::<bool>())
}

/// Writes a machine with these rungs; about one in three starts or ends on a rung before it.
fn text_of(rungs: &[Rung], four_wire: bool) -> String {
    const COLORS: [&str; 6] = ["black", "red", "white", "blue-white", "orange", "grey-black"];
    let (mut parts, mut leads, mut set) = (Vec::new(), Vec::new(), Vec::new());
    let mut inner: Vec<String> = Vec::new();
    for (number, rung) in rungs.iter().enumerate() {
        let pick = |choice: u8, rails: [&str; 3], inner: &[String]| match choice % 6 {
            0 | 1 => rails[0].to_owned(),
            2 => rails[1].to_owned(),
            3 if !four_wire => rails[2].to_owned(),
            _ if inner.is_empty() => rails[0].to_owned(),
            _ => inner[usize::from(choice) % inner.len()].clone(),
        };
        let mut end = pick(rung.from, ["block.L1", "block.L1", "block.L2"], &inner);
        let last = pick(rung.to, ["block.L2", "block.N", "CH"], &inner);
        let mut fresh = Vec::new();
        for (place, kind) in rung.kinds.iter().enumerate() {
            let id = format!("p{number}-{place}");
            // Every rung has a load, else most machines would be a dead short.
            let kind = if place + 1 == rung.kinds.len() { [1, 2, 7][usize::from(*kind) % 3] } else { *kind };
            let (one, two) = describe(kind, &id, &mut parts, &mut set);
            leads.push((end, format!("{id}.{one}")));
            end = format!("{id}.{two}");
            fresh.extend([format!("{id}.{one}"), end.clone()]);
        }
        leads.push((end, last));
        inner.extend(fresh);
    }
    let leads: Vec<String> = leads
        .iter()
        .enumerate()
        .map(|(at, (from, to))| {
            let color = COLORS[at % COLORS.len()];
            format!("  {{ id = \"W{at}\", from = \"{from}\", to = \"{to}\", color = \"{color}\" }},")
        })
        .collect();
    let cord = if four_wire { "four-wire" } else { "three-wire" };
    format!(
        "callwright = 1\npart = [\n{}\n]\nlead = [\n{}\n]\n\
         state = [{{ id = \"off\", say = \"plugged in, everything off\", set = {{ {} }} }}]\n\
         place = [{{ id = \"here\", say = \"in the open\" }}]\nzone = [{{ id = \"air\", rest_c = 20 }}]\n\
         machine = {{ id = \"random\", kind = \"test machine\", title = \"Machine put together at random\" }}\n\
         plate = {{ volts = 240, watts = 5000 }}\n\
         supply = {{ kind = \"split-phase\", receptacle = \"14-30\", cord = \"{cord}\", breaker_amps = 30, \
         receptacle_place = \"here\", block_place = \"here\", panel_place = \"here\" }}\n",
        parts.join("\n"),
        leads.join("\n"),
        set.join(", "),
    )
}

/// Describes a part; gives its two terminals.
fn describe(kind: u8, id: &str, parts: &mut Vec<String>, set: &mut Vec<String>) -> (&'static str, &'static str) {
    let name = ["selector switch", "heating element", "lamp", "housing thermostat", "fuse"][usize::from(kind) % 5];
    let head = format!("  {{ id = \"{id}\", place = \"here\", name = \"{name} {id}\"");
    let (body, ends) = match kind {
        0 => {
            set.push(format!("{id} = \"off\""));
            (
                "kind = \"switch\", positions = [\"off\", \"on\"], contacts = [{ from = \"A\", to = \"B\", closed_in = [\"on\"] }, { from = \"A\", to = \"C\", closed_in = [\"off\"] }]",
                ("A", "B"),
            )
        }
        1 => ("kind = \"heater\", watts = 1000, volts = 240", ("1", "2")),
        2 => ("kind = \"lamp\", watts = 15, volts = 120", ("1", "2")),
        3 => ("kind = \"thermostat\", zone = \"air\", trips_c = 60, resets_c = 50", ("1", "2")),
        4 => ("kind = \"fuse\"", ("1", "2")),
        5 => ("kind = \"connector\", pins = [\"1\"]", ("1a", "1b")),
        6 => ("kind = \"cut-off\"", ("1", "2")),
        _ => (
            "kind = \"motor\", volts = 120, run = { from = \"5\", to = \"4\", ohms = 5, reactance = 7, running_ohms = 12, running_reactance = 18 }, start = { from = \"5\", to = \"4\", ohms = 14, reactance = 6 }, start_switch = true, contacts = [{ from = \"1\", to = \"5\", when = \"running\" }]",
            ("5", "4"),
        ),
    };
    parts.push(format!("{head}, {body} }},"));
    ends
}

#[test]
fn eighty_parts_in_a_plain_ladder_print_in_legible_size() {
    let rung = |number: u8| Rung {
        kinds: vec![3, 5, 4, number % 2],
        from: 0,
        to: if number.is_multiple_of(3) { 0 } else { 2 },
    };
    let machine = machine::read(&text_of(&(0..20).map(rung).collect::<Vec<_>>(), true)).machine.unwrap();
    assert_eq!(machine.parts.iter().filter(|part| !part.installation && part.kind != PartKind::Lead).count(), 80);
    let points = least_points(&hold(&machine, &full(&machine)));
    assert!(points >= LEAST_POINTS_OF_80, "{points:.1} points");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn machines_put_together_at_random_are_drawn_like_the_shipped_ones((rungs, four_wire) in rungs(80)) {
        let read = machine::read(&text_of(&rungs, four_wire));
        // A rung of contacts alone from leg to leg is refused by the reader: a dead short.
        proptest::prop_assume!(read.machine.is_some() || read.diagnostics.iter().all(|found| found.code != "m018-dead-short"));
        let machine = read.machine.unwrap();
        let scene = hold(&machine, &Question::default());
        hold(&machine, &full(&machine));
        let points = least_points(&scene);
        prop_assert!(points >= LEAST_POINTS_TANGLED, "{points} points");
    }
}
