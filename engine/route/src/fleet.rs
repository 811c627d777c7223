//! Tours of one or several vans with sure minutes, searched by a routing library (`vrp-core`).
//!
//! The library's search draws random numbers from a stream of its own that begins anew in every process; what it finds is
//! weighed here again, and only ever offered as a beginning to [`crate::day`].

use crate::NoPlan;
use std::collections::BTreeSet;
use std::sync::Arc;
use vrp_core::construction::features::{JobSkills, JobSkillsDimension, VehicleSkillsDimension, create_skills_feature};
use vrp_core::models::common::TimeWindow;
use vrp_core::models::problem::{JobIdDimension, VehicleIdDimension};
use vrp_core::prelude::{
    DefaultRandom, Environment, GenericError, GoalContextBuilder, MinimizeUnassignedBuilder, Problem, ProblemBuilder,
    SimpleTransportCost, SingleBuilder, Solver, TransportCost, TransportFeatureBuilder, VehicleBuilder,
    VehicleDetailBuilder, VrpConfigBuilder,
};
use vrp_core::rosomaxa::utils::Parallelism;

/// A visit to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// Its place, by the row of the travel table.
    pub place: usize,
    /// Earliest and latest start.
    pub window: (f64, f64),
    /// How long it takes.
    pub minutes: f64,
    /// What the van must be able to do.
    pub skill: Option<String>,
}

/// A van.
#[derive(Clone, Debug, PartialEq)]
pub struct Van {
    /// Where it starts.
    pub from: usize,
    /// Where it must come back to; anywhere where there is none.
    pub back_to: Option<usize>,
    /// When it may leave, and when it must be back.
    pub hours: (f64, f64),
    /// What it can do.
    pub skills: Vec<String>,
}

/// Tours: for each van that drives its tasks in order, and the tasks that fit in nowhere.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tours {
    /// The van and its tasks.
    pub tours: Vec<(usize, Vec<usize>)>,
    /// Tasks left over.
    pub left_over: Vec<usize>,
}

impl Tours {
    /// Gives what all tours drive together, in the unit of the table.
    #[must_use]
    pub fn travel(&self, travel: &[Vec<f64>], tasks: &[Task], vans: &[Van]) -> f64 {
        let tour = |(van, order): &(usize, Vec<usize>)| {
            let places = order.iter().map(|task| tasks[*task].place);
            let stops: Vec<usize> = std::iter::once(vans[*van].from).chain(places).chain(vans[*van].back_to).collect();
            stops.windows(2).map(|pair| travel[pair[0]][pair[1]]).sum::<f64>()
        };
        self.tours.iter().map(tour).sum()
    }
}

/// Searches tours of least travel that keep every window, for so many generations of the library's search.
///
/// # Errors
/// A table that is not square or has a time that is none, a task or van at no place of it, or the library's own refusal.
pub fn search(travel: &[Vec<f64>], tasks: &[Task], vans: &[Van], generations: usize) -> Result<Tours, NoPlan> {
    check(travel, tasks, vans)?;
    if tasks.is_empty() {
        return Ok(Tours::default());
    }
    searched(travel, tasks, vans, generations).map_err(|error| NoPlan(format!("no order could be searched: {error}")))
}

fn check(travel: &[Vec<f64>], tasks: &[Task], vans: &[Van]) -> Result<(), NoPlan> {
    let bad = |what: &str| Err(NoPlan(what.to_owned()));
    let places = travel.len();
    if travel
        .iter()
        .any(|row| row.len() != places || row.iter().any(|minutes| !(minutes.is_finite() && *minutes >= 0.0)))
    {
        return bad("the travel table must have as many columns as rows, and times from 0 up");
    }
    let there = |place: usize| place < places;
    if !tasks.iter().all(|task| there(task.place))
        || !vans.iter().all(|van| there(van.from) && van.back_to.is_none_or(there))
    {
        return bad("a call or a van stands at a place that the travel table does not have");
    }
    let hours = |(from, to): (f64, f64)| from.is_finite() && to.is_finite() && from >= 0.0 && from <= to;
    if !tasks.iter().all(|task| hours(task.window) && task.minutes.is_finite() && task.minutes >= 0.0) {
        return bad("a window must begin before it ends, and minutes count from 0 up");
    }
    if vans.is_empty() || !vans.iter().all(|van| hours(van.hours)) {
        return bad("a day needs a van, and the van's hours must begin before they end");
    }
    Ok(())
}

fn searched(travel: &[Vec<f64>], tasks: &[Task], vans: &[Van], generations: usize) -> Result<Tours, GenericError> {
    let flat: Vec<f64> = travel.concat();
    let transport: Arc<dyn TransportCost> = Arc::new(SimpleTransportCost::new(flat.clone(), flat)?);
    let problem = Arc::new(problem(transport, tasks, vans)?);
    let quiet = Arc::new(|_: &str| {});
    let random = Arc::new(DefaultRandom::new_repeatable());
    let environment = Arc::new(Environment::new(random, None, Parallelism::new(1, 1), quiet, false));
    let config = VrpConfigBuilder::new(problem.clone())
        .set_environment(environment)
        .prebuild()?
        .with_max_generations(Some(generations))
        .build()?;
    let solution = Solver::new(problem, config).solve()?;
    let number = |id: Option<&String>| id.and_then(|id| id.parse::<usize>().ok());
    let mut tours = Tours::default();
    for route in &solution.routes {
        let jobs =
            route.tour.all_activities().filter_map(|activity| number(activity.job.as_ref()?.dimens.get_job_id()));
        let order: Vec<usize> = jobs.collect();
        if let (Some(van), false) = (number(route.actor.vehicle.dimens.get_vehicle_id()), order.is_empty()) {
            tours.tours.push((van, order));
        }
    }
    let served: BTreeSet<usize> = tours.tours.iter().flat_map(|(_, order)| order.iter().copied()).collect();
    tours.left_over = (0..tasks.len()).filter(|task| !served.contains(task)).collect();
    Ok(tours)
}

fn problem(transport: Arc<dyn TransportCost>, tasks: &[Task], vans: &[Van]) -> Result<Problem, GenericError> {
    let unassigned = MinimizeUnassignedBuilder::new("every call").build()?;
    let travel = TransportFeatureBuilder::new("least travel")
        .set_transport_cost(transport.clone())
        .set_time_constrained(true)
        .build_minimize_distance()?;
    let skills = create_skills_feature("skills", 2.into())?;
    let goal = GoalContextBuilder::with_features(&[unassigned, travel, skills])?.build()?;
    let quiet = Arc::new(|_: &str| {});
    let mut builder = ProblemBuilder::default().with_logger(quiet).with_goal(goal).with_transport_cost(transport);
    for (number, task) in tasks.iter().enumerate() {
        let mut job = SingleBuilder::default()
            .id(&number.to_string())
            .location(task.place)?
            .duration(task.minutes)?
            .times(vec![TimeWindow::new(task.window.0, task.window.1)])?;
        if let Some(skill) = &task.skill {
            let needed = JobSkills::new(Some(vec![skill.clone()]), None, None);
            job = job.dimension(|dimens| {
                dimens.set_job_skills(needed);
            });
        }
        builder = builder.add_job(job.build_as_job()?);
    }
    for (number, van) in vans.iter().enumerate() {
        let mut detail = VehicleDetailBuilder::default().set_start_location(van.from).set_start_time(van.hours.0);
        if let Some(back_to) = van.back_to {
            detail = detail.set_end_location(back_to);
        }
        let vehicle = VehicleBuilder::default()
            .id(&number.to_string())
            .add_detail(detail.set_end_time(van.hours.1).build()?)
            .dimension(|dimens| {
                dimens.set_vehicle_skills(van.skills.iter().cloned().collect());
            })
            .build()?;
        builder = builder.add_vehicle(vehicle);
    }
    builder.build()
}
