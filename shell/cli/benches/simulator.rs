//! Single faults by low-rank changes beside the general circuit simulator doing the same faults: one process that alters
//! a part for each fault, and one process for each fault. Prints its figures; the voltages must agree.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a benchmark prints its figures and may fail loudly")]

use circuit::{Branch, Change, Complex64, Law, Network, Node};
use std::fmt::Write as _;
use std::process::Command;
use std::time::{Duration, Instant};

/// Nodes of the ladder, as many as a large machine has.
const NODES: u32 = 60;
/// Times our own faults are gone through, to have something to time.
const ROUNDS: u32 = 200;
/// Faults that get a process of their own.
const PROCESSES: usize = 20;
/// An open as the simulator gets it, ohms.
const OPEN: f64 = 1e12;

fn main() {
    let (network, ohms) = ladder();
    let read = (Node(NODES / 2), Node(0));
    let faults: Vec<Branch> = (1..u32::try_from(ohms.len()).unwrap() + 1).map(Branch).collect();

    let solved = network.solve().unwrap();
    let fault = |&branch: &Branch| {
        let change = [Change::Law(branch, Law::ohms(OPEN))];
        circuit::magnitude(solved.with(&change).unwrap().voltage(read.0, read.1).unwrap())
    };
    let start = Instant::now();
    let mut ours = Vec::new();
    for _ in 0..ROUNDS {
        ours = faults.iter().map(fault).collect();
    }
    let own = start.elapsed() / (ROUNDS * u32::try_from(faults.len()).unwrap());

    let start = Instant::now();
    let altered = run(&deck(&ohms, &faults));
    let one_process = start.elapsed() / u32::try_from(faults.len()).unwrap();
    let start = Instant::now();
    run(&deck(&ohms, &[]));
    let start_up = start.elapsed();
    let alter = one_process.saturating_sub(start_up / u32::try_from(faults.len()).unwrap());

    let start = Instant::now();
    for fault in faults.iter().take(PROCESSES) {
        run(&deck(&ohms, std::slice::from_ref(fault)));
    }
    let process = start.elapsed() / u32::try_from(PROCESSES).unwrap();

    assert_eq!(altered.len(), ours.len());
    for (a, b) in altered.iter().zip(&ours) {
        assert!((a - b).abs() <= 1e-3 * b.abs() + 6e-3, "simulator {a}, ours {b}");
    }
    println!("ladder of {NODES} nodes, {} branches, {} single faults, one voltage read", ohms.len() + 1, faults.len());
    row("low-rank change and one reading", own, own);
    row("simulator, one process, part altered (start-up taken off)", alter, own);
    row("simulator, one process a fault", process, own);
}

fn row(what: &str, took: Duration, own: Duration) {
    let times = took.as_secs_f64() / own.as_secs_f64();
    println!("  {what:<60} {:>10.2} us a fault   {times:>8.0} times ours", took.as_secs_f64() * 1e6);
}

/// A ladder with rungs and a few long ties, fed by one source: its network, and the ohms of each branch after the source.
fn ladder() -> (Network, Vec<(u32, u32, f64)>) {
    let mut ohms: Vec<(u32, u32, f64)> = Vec::new();
    for n in 1..NODES - 1 {
        ohms.push((n, n + 1, 0.1 + f64::from(n % 7)));
        if n % 2 == 0 {
            ohms.push((n + 1, 0, 20.0 + f64::from(n % 11)));
        }
        if n % 9 == 0 && n + 9 < NODES {
            ohms.push((n, n + 9, 150.0));
        }
    }
    let mut network = Network::new(NODES);
    network.add(Node(1), Node(0), Law::Source { emf: Complex64::new(120.0, 0.0), series: Complex64::new(0.05, 0.0) });
    for &(a, b, r) in &ohms {
        network.add(Node(a), Node(b), Law::ohms(r));
    }
    (network, ohms)
}

/// The same ladder for the simulator; each fault is altered in, solved, read and altered back.
fn deck(ohms: &[(u32, u32, f64)], faults: &[Branch]) -> String {
    let mut text = "* ladder\nV0 s 0 DC 0 AC 120\nR0 s n1 0.05\n".to_owned();
    let name = |n: u32| if n == 0 { "0".to_owned() } else { format!("n{n}") };
    for (index, &(a, b, r)) in ohms.iter().enumerate() {
        writeln!(text, "R{} {} {} {r:?}", index + 1, name(a), name(b)).unwrap();
    }
    text.push_str(".control\nset numdgt=12\nset noaskquit\n");
    for fault in faults {
        let (.., r) = ohms[fault.0 as usize - 1];
        let read = NODES / 2;
        writeln!(text, "alter R{} = {OPEN:?}\nac lin 1 60 60\nprint vm(n{read})\nalter R{} = {r:?}", fault.0, fault.0)
            .unwrap();
    }
    text.push_str("quit\n.endc\n.end\n");
    text
}

fn run(deck: &str) -> Vec<f64> {
    let path = std::env::temp_dir().join(format!("ladder-{}.cir", std::process::id()));
    std::fs::write(&path, deck).unwrap();
    let output = Command::new("ngspice").arg("-b").arg(&path).output().expect("install ngspice to run this");
    std::fs::remove_file(&path).unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    text.lines()
        .filter_map(|l| l.split_once(" = ").and_then(|(n, v)| n.contains("vm(").then(|| v.trim().parse().unwrap())))
        .collect()
}
