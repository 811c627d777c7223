//! What one who is told the truth pays at least, penalty included. Internal to the bound.

use super::super::core::{Core, CoreTest, bits};
use super::super::state::State;
use super::walks::Walks;
use std::collections::BTreeMap;

/// What may be chosen freely: any of it gives a valid bound.
#[derive(Debug, Clone)]
pub(super) struct Tuning {
    /// Price of a nat for each hypothesis, from 0 up.
    prices: Vec<f64>,
    /// Reference chances of the outcomes of each test, all above 0 where any row is.
    references: Vec<Vec<f64>>,
}

/// The bound, and what each hypothesis' knower chose.
#[derive(Debug, Clone)]
pub(super) struct Told {
    pub(super) bound: f64,
    choices: Vec<Choice>,
}

/// What the knower of one hypothesis chose.
#[derive(Debug, Clone, Default)]
struct Choice {
    value: f64,
    /// Tests taken, each with the row it is taken under and the nats it gives.
    tests: Vec<(usize, usize, f64)>,
    /// Nats that are needed to tell this end from the others.
    needed: f64,
}

/// A test that pays for one hypothesis.
#[derive(Debug, Clone, Copy)]
struct Paying {
    test: usize,
    row: usize,
    nats: f64,
    /// Its price less what its nats are worth: below 0.
    net: f64,
}

/// Reference chances of repairs and the weights that share an end, as they follow from the prices of a nat.
struct Ends {
    /// Chance that each fix ends the job.
    chance: Vec<f64>,
    /// Weight of the hypotheses that each fix can end.
    weight: Vec<f64>,
    /// Largest price of a nat.
    dearest: f64,
}

#[derive(Debug)]
pub(super) struct Relaxed<'a> {
    core: &'a Core,
    state: &'a State,
    /// What each hypothesis can become by repairs, itself first; empty for those without weight.
    reach: Vec<Vec<usize>>,
    /// For each hypothesis, the fixes that touch it: fix and place among its effects.
    touching: Vec<Vec<(usize, usize)>>,
    /// For each fix, the hypotheses that it can end, perhaps after others.
    ends: Vec<Vec<usize>>,
    walks: Walks,
}

/// Most covers whose sets are searched for one hypothesis; the cheapest beyond are taken as open.
const MOST_COVERS: usize = 12;
/// Highest reference chance that a repair ends the job.
const SUREST: f64 = 0.97;
/// Share of the even mixture of all rows in every reference.
const MIXED_IN: f64 = 1e-4;

impl<'a> Relaxed<'a> {
    pub(super) fn new(core: &'a Core, state: &'a State) -> Self {
        let mut touching = vec![Vec::new(); core.hyps];
        for (f, fix) in core.fixes.iter().enumerate().filter(|(f, _)| open_to_try(core, state, *f)) {
            fix.effects.iter().enumerate().for_each(|(at, e)| touching[e.hyp].push((f, at)));
        }
        let reach: Vec<Vec<usize>> = (0..core.hyps)
            .map(|h| if state.weights[h] > 0.0 { becomes(core, &touching, h) } else { Vec::new() })
            .collect();
        let can = |f: usize, h: usize| core.fixes[f].effects.iter().any(|e| e.end > 0.0 && reach[h].contains(&e.hyp));
        let ends = (0..core.fixes.len()).map(|f| (0..core.hyps).filter(|&h| can(f, h)).collect()).collect();
        Self { core, state, reach, touching, ends, walks: Walks::new(core, state.access.mode) }
    }

    /// One price of a nat for all, references as the prior expects.
    pub(super) fn tuning(&self, price: f64) -> Tuning {
        let whole = |test: &CoreTest| {
            let drawn = |column: &Vec<f64>| column.iter().zip(&self.state.weights).map(|(l, w)| l * w).sum();
            mixed(test, &test.columns.iter().map(drawn).collect::<Vec<f64>>())
        };
        Tuning { prices: vec![price; self.core.hyps], references: self.core.tests.iter().map(whole).collect() }
    }

    /// Works out the bound.
    pub(super) fn told(&self, tuning: &Tuning) -> Told {
        let ends = self.ends_of(tuning);
        let shifts: Vec<Vec<f64>> =
            tuning.references.iter().map(|q| q.iter().map(|p| libm::log(*p)).collect()).collect();
        let mut told = Told { bound: 0.0, choices: vec![Choice::default(); self.core.hyps] };
        for h in (0..self.core.hyps).filter(|&h| self.state.weights[h] > 0.0) {
            let choice = self.choose(h, tuning.prices[h], &ends, &shifts);
            told.bound += self.state.weights[h] * choice.value;
            told.choices[h] = choice;
        }
        told
    }

    /// References that expect the tests as they were chosen.
    pub(super) fn follow(&self, tuning: &Tuning, told: &Told) -> Tuning {
        let core = self.core;
        let mut drawn: Vec<Vec<f64>> = core.tests.iter().map(|t| vec![0.0; t.columns.len()]).collect();
        for (h, choice) in told.choices.iter().enumerate() {
            let weight = self.state.weights[h] * tuning.prices[h];
            for &(test, row, _) in &choice.tests {
                let columns = &core.tests[test].columns;
                drawn[test].iter_mut().zip(columns).for_each(|(sum, column)| *sum += weight * column[row]);
            }
        }
        let next = |(t, sums): (usize, &Vec<f64>)| {
            let chosen = sums.iter().sum::<f64>() > 0.0;
            if chosen { mixed(&core.tests[t], sums) } else { tuning.references[t].clone() }
        };
        Tuning { prices: tuning.prices.clone(), references: drawn.iter().enumerate().map(next).collect() }
    }

    /// Prices of a nat moved towards what each hypothesis lacks, by at most this share.
    pub(super) fn move_prices(&self, tuning: &Tuning, told: &Told, reach: f64) -> Tuning {
        let mut next = tuning.clone();
        for (price, choice) in next.prices.iter_mut().zip(&told.choices) {
            let given: f64 = choice.tests.iter().map(|(_, _, nats)| nats).sum();
            let lacking = (choice.needed - given) / choice.needed.max(given).max(1e-9);
            *price *= libm::exp(reach * lacking.clamp(-1.0, 1.0));
        }
        next
    }

    fn ends_of(&self, tuning: &Tuning) -> Ends {
        let core = self.core;
        let dearest = tuning.prices.iter().copied().fold(0.0, f64::max);
        let mass = |h: usize| self.state.weights[h] * tuning.prices[h];
        let whole: f64 = (0..core.hyps).map(mass).sum();
        // INVARIANT: a fix that does not touch the truth gives at most -ln(1 - chance) nats, worth no more than its price.
        let chance = |f: &super::super::core::CoreFix| (-libm::expm1(-(f.cost + f.check_cost) / dearest)).min(SUREST);
        Ends {
            chance: core.fixes.iter().map(|f| if dearest > 0.0 { chance(f) } else { SUREST }).collect(),
            weight: self.ends.iter().map(|of| of.iter().map(|&h| mass(h)).sum::<f64>() / whole).collect(),
            dearest,
        }
    }

    fn choose(&self, h: usize, price: f64, ends: &Ends, shifts: &[Vec<f64>]) -> Choice {
        let paying = self.paying(h, price, ends.dearest, shifts);
        let sets = Sets::new(self, h, &paying);
        let mut attempts = Attempts { relaxed: self, ends, price, known: BTreeMap::new() };
        let exit = self.core.exit.unwrap_or(f64::INFINITY);
        let mut best = (exit + sets.least(0, |set| self.walks.any(set)).0, None);
        let tried = Vec::new();
        for &(f, at) in self.touching[h].iter().filter(|(f, _)| !self.barred(*f, &tried)) {
            let fix = &self.core.fixes[f];
            let end = fix.effects[at].end;
            let done = if end > 0.0 { end * sets.least(fix.need, |set| self.walks.last(set, fix)).0 } else { 0.0 };
            let left =
                if end < 1.0 { (1.0 - end) * sets.least(fix.need, |set| self.walks.with(set, fix)).0 } else { 0.0 };
            let value = done + left + attempts.attempt(h, (f, at), &tried);
            if value < best.0 {
                best = (value, Some(f));
            }
        }
        let (tests, needed) = match best.1 {
            None => (sets.taken(0, |set| self.walks.any(set)), 0.0),
            Some(f) => {
                let fix = &self.core.fixes[f];
                let share = ends.weight[f];
                let needed =
                    if share > 0.0 { -libm::log(share) - libm::log(ends.chance[f].max(1e-300)).abs() } else { 0.0 };
                (sets.taken(fix.need, |set| self.walks.last(set, fix)), needed)
            }
        };
        Choice { value: best.0, tests, needed }
    }

    /// Tests whose nats are worth more than their price when this is the truth.
    fn paying(&self, h: usize, price: f64, dearest: f64, shifts: &[Vec<f64>]) -> Vec<Paying> {
        let mut list = Vec::new();
        if price <= 0.0 {
            return list;
        }
        for (test, t) in self.core.tests.iter().enumerate().filter(|(t, _)| self.state.may_test(*t)) {
            let nats = |row: usize| {
                let cross: f64 = t
                    .columns
                    .iter()
                    .zip(&shifts[test])
                    .map(|(c, ln)| if c[row] > 0.0 { c[row] * ln } else { 0.0 })
                    .sum();
                -t.spread[row] - cross
            };
            let rows = self.reach[h].iter().map(|&row| (nats(row), row));
            let Some((most, row)) = rows.max_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
            let again = if t.sure && self.reach[h].len() > 1 { self.again(h, t, price, dearest) } else { 0.0 };
            let net = t.cost - price * most - again;
            if net < 0.0 {
                list.push(Paying { test, row, nats: most, net });
            }
        }
        list
    }

    /// What repeating a sure test can gain where partial repairs change the truth: each change may be seen once.
    fn again(&self, h: usize, test: &CoreTest, price: f64, dearest: f64) -> f64 {
        let others = (test.columns.len().max(2) - 1) as f64;
        let changed = -libm::expm1(-test.cost / dearest) / others;
        let gain = if changed > 0.0 { -price * libm::log(changed) - test.cost } else { f64::INFINITY };
        (self.reach[h].len() - 1) as f64 * gain.max(0.0)
    }

    fn barred(&self, fix: usize, tried: &[usize]) -> bool {
        let f = &self.core.fixes[fix];
        f.unsure && f.members.iter().any(|m| self.state.tried.has(*m) || tried.contains(m))
    }
}

/// WHY NOT what the planner asks: a fix that touches nothing possible now may do so after a partial repair.
fn open_to_try(core: &Core, state: &State, fix: usize) -> bool {
    core.fixes[fix].members.iter().all(|&m| !state.tried.has(m))
}

fn becomes(core: &Core, touching: &[Vec<(usize, usize)>], h: usize) -> Vec<usize> {
    let mut reach = vec![h];
    let mut at = 0;
    while let Some(&x) = reach.get(at) {
        for &(f, place) in &touching[x] {
            for &(to, _) in &core.fixes[f].effects[place].to {
                if !reach.contains(&to) {
                    reach.push(to);
                }
            }
        }
        at += 1;
    }
    reach
}

/// Sums scaled to one, with a little of every row in them.
fn mixed(test: &CoreTest, sums: &[f64]) -> Vec<f64> {
    let total: f64 = sums.iter().sum();
    let even = |column: &Vec<f64>| column.iter().sum::<f64>() / column.len().max(1) as f64;
    let share = |sum: &f64| if total > 0.0 { sum / total } else { 0.0 };
    let part = if total > 0.0 { MIXED_IN } else { 1.0 };
    sums.iter().zip(&test.columns).map(|(sum, column)| (1.0 - part) * share(sum) + part * even(column)).collect()
}

/// Repairs that touch the truth, tried in every order; set-up is left out.
struct Attempts<'r> {
    relaxed: &'r Relaxed<'r>,
    ends: &'r Ends,
    price: f64,
    /// Least cost from a truth with these repairs tried.
    known: BTreeMap<(usize, Vec<usize>), f64>,
}

impl Attempts<'_> {
    fn least(&mut self, x: usize, tried: &[usize]) -> f64 {
        let key = (x, tried.to_vec());
        if let Some(&known) = self.known.get(&key) {
            return known;
        }
        let relaxed = self.relaxed;
        let mut best = relaxed.core.exit.unwrap_or(f64::INFINITY);
        for &touch in relaxed.touching[x].iter().filter(|(f, _)| !relaxed.barred(*f, tried)) {
            best = best.min(self.attempt(x, touch, tried));
        }
        self.known.insert(key, best);
        best
    }

    /// Own price of a fix, its part of the penalty, and what follows if it leaves a fault.
    fn attempt(&mut self, x: usize, (f, at): (usize, usize), tried: &[usize]) -> f64 {
        let fix = &self.relaxed.core.fixes[f];
        let effect = &fix.effects[at];
        let (end, chance) = (effect.end, self.ends.chance[f]);
        let mut value = fix.cost + fix.check_cost;
        if self.price > 0.0 && end > 0.0 {
            let known = libm::log(end / chance) + libm::log(self.ends.weight[f]);
            value -= end * self.price * known;
        }
        if self.price > 0.0 && end < 1.0 {
            value -= (1.0 - end) * self.price * libm::log((1.0 - end) / (1.0 - chance));
        }
        let mut after = tried.to_vec();
        if fix.unsure {
            after.extend(fix.members.iter().filter(|m| self.relaxed.core.fixes[**m].unsure));
            after.sort_unstable();
            after.dedup();
        }
        if effect.stay > 0.0 {
            value += effect.stay * self.least(x, &after);
        }
        for &(to, p) in &effect.to {
            value += p * self.least(to, &after);
        }
        value
    }
}

/// Sets of covers worth opening for one hypothesis, with the tests that pay behind them.
struct Sets<'r> {
    relaxed: &'r Relaxed<'r>,
    paying: &'r [Paying],
    /// Covers that matter, one for each local bit.
    covers: Vec<usize>,
    /// Sets of modes, each with the cost of every set of covers and its paying tests; infinite where the modes do not do.
    tables: Vec<(u64, Vec<f64>)>,
}

impl<'r> Sets<'r> {
    fn new(relaxed: &'r Relaxed<'r>, h: usize, paying: &'r [Paying]) -> Self {
        let core = relaxed.core;
        let tests = paying.iter().map(|p| core.tests[p.test].need);
        let fixes = relaxed.touching[h].iter().map(|(f, _)| core.fixes[*f].need);
        let need = tests.chain(fixes).fold(0, |mask, need| mask | need) & !relaxed.state.access.open;
        let mut covers: Vec<usize> = bits(need).collect();
        covers.sort_by(|&a, &b| core.groups[b].open.total_cmp(&core.groups[a].open).then(a.cmp(&b)));
        covers.truncate(MOST_COVERS);
        let mut sets = Self { relaxed, paying, covers, tables: Vec::new() };
        sets.tables = relaxed.walks.sets().into_iter().map(|modes| (modes, sets.table(modes))).collect();
        sets
    }

    fn local(&self, need: u64) -> usize {
        self.covers.iter().enumerate().filter(|(_, g)| need >> **g & 1 == 1).fold(0, |mask, (bit, _)| mask | 1 << bit)
    }

    fn table(&self, modes: u64) -> Vec<f64> {
        let core = self.relaxed.core;
        let mut table = vec![0.0; 1 << self.covers.len()];
        for p in self.paying {
            let t = &core.tests[p.test];
            if t.mode.is_none_or(|m| modes >> m & 1 == 1) {
                table[self.local(t.need)] += p.net;
            }
        }
        for bit in 0..self.covers.len() {
            for mask in (0..table.len()).filter(|mask| mask >> bit & 1 == 1) {
                table[mask] += table[mask & !(1 << bit)];
            }
        }
        for (bit, &g) in self.covers.iter().enumerate() {
            let cover = &core.groups[g];
            let price = if cover.mode.is_none_or(|m| modes >> m & 1 == 1) { cover.open } else { f64::INFINITY };
            table.iter_mut().enumerate().filter(|(mask, _)| mask >> bit & 1 == 1).for_each(|(_, cost)| *cost += price);
        }
        table
    }

    /// Least cost with what is needed open, and where it is: a place in the tables and a set of covers.
    fn least(&self, need: u64, walk: impl Fn(u64) -> f64) -> (f64, usize, usize) {
        let need = self.local(need);
        let mut best = (f64::INFINITY, 0, 0);
        for (at, (modes, table)) in self.tables.iter().enumerate() {
            let way = walk(*modes);
            for (mask, cost) in table.iter().enumerate().filter(|(mask, _)| mask & need == need) {
                if way + cost < best.0 {
                    best = (way + cost, at, mask);
                }
            }
        }
        best
    }

    /// The tests taken there.
    fn taken(&self, need: u64, walk: impl Fn(u64) -> f64) -> Vec<(usize, usize, f64)> {
        let (_, at, mask) = self.least(need, walk);
        let Some((modes, _)) = self.tables.get(at) else { return Vec::new() };
        let within = |p: &&Paying| {
            let t = &self.relaxed.core.tests[p.test];
            self.local(t.need) & !mask == 0 && t.mode.is_none_or(|m| modes >> m & 1 == 1)
        };
        self.paying.iter().filter(within).map(|p| (p.test, p.row, p.nats)).collect()
    }
}
