//! The library's search against published optima and exact searches. SOURCE of the two instances: Solomon 1987, cut to the
//! first 25 customers, distances cut to one decimal as published; of `techs_a` and `tour_a`: invented, solved by an exact
//! search of the reference scripts handed to the project.

use route::fleet::{Task, Tours, Van, search};
use serde_json::Value;

type Instance = (Vec<Vec<f64>>, Vec<Task>, f64);

fn solomon(text: &str, cut: bool) -> Instance {
    let rows: Vec<Vec<f64>> = text
        .lines()
        .map(|line| line.split_whitespace().map(|word| word.parse().expect("a number")).collect())
        .collect();
    let distance = |one: &Vec<f64>, other: &Vec<f64>| {
        let exact = libm::hypot(one[1] - other[1], one[2] - other[2]);
        if cut { (exact * 10.0).floor() / 10.0 } else { exact }
    };
    let travel = rows.iter().map(|one| rows.iter().map(|other| distance(one, other)).collect()).collect();
    let task =
        |(place, row): (usize, &Vec<f64>)| Task { place, window: (row[4], row[5]), minutes: row[6], skill: None };
    let tasks = rows.iter().enumerate().skip(1).map(task).collect();
    (travel, tasks, rows[0][5])
}

/// Every task once, each within its window, every van back in time: asked of the tours alone.
fn keeps_every_window(tours: &Tours, travel: &[Vec<f64>], tasks: &[Task], vans: &[Van]) {
    assert_eq!(tours.left_over, Vec::<usize>::new());
    let mut served: Vec<usize> = tours.tours.iter().flat_map(|(_, order)| order.clone()).collect();
    served.sort_unstable();
    assert_eq!(served, (0..tasks.len()).collect::<Vec<_>>());
    for (van, order) in &tours.tours {
        let (mut at, mut clock) = (vans[*van].from, vans[*van].hours.0);
        for task in order.iter().map(|task| &tasks[*task]) {
            clock = (clock + travel[at][task.place]).max(task.window.0);
            assert!(clock <= task.window.1 + 1e-9, "{task:?} at {clock}");
            assert!(task.skill.as_ref().is_none_or(|skill| vans[*van].skills.contains(skill)), "{task:?}");
            clock += task.minutes;
            at = task.place;
        }
        assert!(clock + travel[at][vans[*van].from] <= vans[*van].hours.1 + 1e-9);
    }
}

#[test]
fn published_instances_are_solved_to_their_optimum() {
    let random = include_str!("data/solomon_R101_25.txt");
    let clustered = include_str!("data/solomon_C101_25.txt");
    for (text, cut, optimum) in [
        (random, true, 617.1),
        (random, false, 618.329_915_5),
        (clustered, true, 191.3),
        (clustered, false, 191.813_618_0),
    ] {
        let (travel, tasks, back) = solomon(text, cut);
        let vans = vec![Van { from: 0, back_to: Some(0), hours: (0.0, back), skills: Vec::new() }; 25];
        let tours = search(&travel, &tasks, &vans, 3000).unwrap();
        keeps_every_window(&tours, &travel, &tasks, &vans);
        let found = tours.travel(&travel, &tasks, &vans);
        assert!((found - optimum).abs() < 0.05, "{found} for {optimum}");
    }
}

#[test]
fn two_technicians_with_skills_drive_as_little_as_the_exact_search() {
    let of: Value = serde_json::from_str(include_str!("data/techs_a.json")).unwrap();
    let number = |value: &Value| value.as_f64().expect("a number");
    let place = |of: &Value| (number(&of["x"]), number(&of["y"]));
    let jobs = of["jobs"].as_array().unwrap();
    let mut places = vec![(number(&of["depot"][0]), number(&of["depot"][1]))];
    places.extend(jobs.iter().map(place));
    let minutes =
        |one: &(f64, f64), other: &(f64, f64)| libm::hypot(one.0 - other.0, one.1 - other.1) / number(&of["speed"]);
    let travel: Vec<Vec<f64>> =
        places.iter().map(|one| places.iter().map(|other| minutes(one, other)).collect()).collect();
    let task = |(place, job): (usize, &Value)| Task {
        place: place + 1,
        window: (number(&job["open"]), number(&job["close"])),
        minutes: number(&job["minutes"]),
        skill: Some(job["skill"].as_str().unwrap().to_owned()),
    };
    let tasks: Vec<Task> = jobs.iter().enumerate().map(task).collect();
    let van = |of: &Value| Van {
        from: 0,
        back_to: Some(0),
        hours: (number(&of["start"]), number(&of["end"])),
        skills: of["skills"].as_array().unwrap().iter().map(|skill| skill.as_str().unwrap().to_owned()).collect(),
    };
    let vans: Vec<Van> = of["techs"].as_array().unwrap().iter().map(van).collect();
    let tours = search(&travel, &tasks, &vans, 300).unwrap();
    keeps_every_window(&tours, &travel, &tasks, &vans);
    let found = tours.travel(&travel, &tasks, &vans);
    assert!((found - 174.795_422_5).abs() < 1e-6, "{found}");
}

#[test]
fn a_closed_tour_is_the_shortest() {
    let of: Value = serde_json::from_str(include_str!("data/tour_a.json")).unwrap();
    let points: Vec<(f64, f64)> = of["points"]
        .as_array()
        .unwrap()
        .iter()
        .map(|point| (point[0].as_f64().unwrap(), point[1].as_f64().unwrap()))
        .collect();
    let travel: Vec<Vec<f64>> =
        points.iter().map(|a| points.iter().map(|b| libm::hypot(a.0 - b.0, a.1 - b.1)).collect()).collect();
    let tasks: Vec<Task> =
        (1..points.len()).map(|place| Task { place, window: (0.0, 1e4), minutes: 0.0, skill: None }).collect();
    let vans = [Van { from: 0, back_to: Some(0), hours: (0.0, 1e4), skills: Vec::new() }];
    let found = search(&travel, &tasks, &vans, 300).unwrap().travel(&travel, &tasks, &vans);
    assert!((found - 124.829_618_4).abs() < 1e-6, "{found}");
}

#[test]
fn wrong_input_is_refused_in_words() {
    let task = Task { place: 1, window: (0.0, 10.0), minutes: 5.0, skill: None };
    let van = Van { from: 0, back_to: None, hours: (0.0, 100.0), skills: Vec::new() };
    let table = vec![vec![0.0, 1.0], vec![1.0, 0.0]];
    let refused = |travel: &[Vec<f64>], task: Task, vans: &[Van], word: &str| {
        let said = search(travel, &[task], vans, 10).unwrap_err().to_string();
        assert!(said.contains(word), "{said}");
    };
    refused(&[vec![0.0]], Task { place: 4, ..task.clone() }, std::slice::from_ref(&van), "stands at a place");
    refused(&[vec![0.0, 1.0]], task.clone(), std::slice::from_ref(&van), "columns");
    refused(&table, Task { window: (9.0, 3.0), ..task.clone() }, std::slice::from_ref(&van), "window");
    refused(&table, Task { minutes: f64::NAN, ..task.clone() }, std::slice::from_ref(&van), "minutes");
    refused(&table, task, &[], "needs a van");
}
