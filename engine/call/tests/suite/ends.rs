//! How calls end.

use crate::play::{DRYER, Player, machine, predictor, settings};
use book::{CallEnded, End, PartChanged, fold_job};
use call::demo::Demo;

#[test]
fn the_demo_by_enter_alone_ends_proved_with_the_right_repair() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    for seed in 1..=6 {
        let mut demo = Demo::draw(&machine, seed).unwrap();
        let mut player = Player::new(&predictor, settings(&machine));
        player.until(&mut demo, |_| false);
        if seed == 1 { println!("{}", player.asked.join("\n")); }
        let job = fold_job(&player.events(), player.session.job().unwrap()).unwrap();
        let ends: Vec<_> = job.all::<CallEnded>().map(|(_, ended)| ended.end.clone()).collect();
        println!("seed {seed}: {} in {} asks: {:?}", machine[demo.hidden()].id, player.asked.len(), ends);
        assert_eq!(ends, [End::Proved], "seed {seed}:\n{}", player.asked.join("\n"));
        let wanted = &machine[machine[demo.hidden()].repair];
        let done = job.all::<PartChanged>().last().unwrap().1;
        assert_eq!(done.part, machine[wanted.part].id, "seed {seed}");
        assert!(demo.sound());
        assert!(job.closed.is_some());
    }
}
