//! One file a command; this one only hands on.

mod call;
mod callfile;
mod certify;
mod check;
mod compare;
mod completions;
mod drawing;
mod duties;
mod live;
mod machines;
mod man;
mod measure;
mod new;
mod next;
mod papers;
mod practice;
mod procedure;
mod rehearse;
mod screen;
mod serve;
mod shared;
mod sheet;
mod shop;
mod suspects;
mod symptoms;
mod teardown;
mod testability;
mod warmup;
mod worth;

use crate::args::{Args, AtCounter, Command};
use crate::failure::Failure;
use crate::{kit, output};
use screens::Touch;
use std::process::ExitCode;

/// Runs what was asked.
pub(crate) fn run(args: Args) -> Result<ExitCode, Failure> {
    let json = args.json;
    let kit = || kit::load(args.meters.as_deref());
    match args.command {
        Command::Machines => machines::run(json),
        Command::Check { files } => check::run(&files, json),
        Command::Schema => {
            output::json(&machine::schema());
            Ok(ExitCode::SUCCESS)
        }
        Command::Compare { one, other } => compare::run(&one, &other, json),
        Command::Sheet(asked) => sheet::run(&asked, json),
        Command::New(asked) => new::run(&asked, json),
        Command::Measure(asked) => measure::run(&asked, &kit()?, json),
        Command::Symptoms { machine, faults } => symptoms::run(&machine, &faults, json),
        Command::Suspects { callfile, top, faults } => suspects::run(&callfile, &kit()?.meter, (top, faults), json),
        Command::Next { callfile, nodes } => next::run(&callfile, &kit()?.meter, nodes, json),
        Command::Certify(asked) => certify::make(&asked, &kit()?.meter, json),
        Command::Verify(asked) => certify::verify(&asked, &kit()?.meter, json),
        Command::Duties { machine } => duties::run(&machine, json),
        Command::Testability { machine, closed } => testability::run(&machine, &closed, &kit()?.meter, json),
        Command::Teardown { machine, to } => teardown::run(&machine, &to, json),
        Command::Drawing(asked) => drawing::run(&asked, &kit()?.meter, json),
        Command::Live { machine, isolated } => live::run(&machine, isolated, json),
        Command::Warmup(asked) => warmup::run(&asked, json),
        Command::Practice(asked) => practice::run(&asked, &kit()?.meter, json),
        Command::Rehearse { machine, calls, seed, misdescribed: true, .. } => {
            rehearse::misdescribed(&machine, calls, seed, json)
        }
        Command::Rehearse { machine, calls, seed, van, planted, .. } => {
            rehearse::run(&machine, calls, seed, van.as_deref(), planted, json)
        }
        Command::Call(asked) => call::run(&asked, &kit()?, json),
        Command::Settings(asked) => shop::run(&Touch::Settings, &asked, json),
        Command::Own(asked) => shop::run(&Touch::Describe, &asked, json),
        Command::Customers(asked) => shop::run(&Touch::Customers, &asked, json),
        Command::Money(asked) => shop::run(&Touch::Money, &asked, json),
        Command::Months(asked) => shop::run(&Touch::Months, &asked, json),
        Command::DemoShop { book, jobs, seed } => shop::demo(&book, jobs, seed, json),
        Command::Papers { check } => papers::run(check.as_deref(), json),
        Command::Worth(asked) => worth::run(&asked, json),
        Command::Procedure { machine, repair, html, pdf, shop } => {
            procedure::run(&machine, &repair, (html.as_deref(), pdf.as_deref()), &shop, json)
        }
        Command::Plan(asked) => shop::run(&Touch::Plan, &asked, json),
        Command::Van { count, book } => {
            shop::run(&Touch::Van, &AtCounter { set: count, hand_out: None, pdf: None, book }, json)
        }
        Command::Screen(asked) => screen::run(&asked, &kit()?.meter, json),
        Command::Serve(asked) => serve::run(&asked, json),
        Command::Pair { server, code, name, trust, book } => {
            shared::pair((&server, &code), &name, trust.as_deref(), book.as_deref(), json)
        }
        Command::Exchange { relay, book } => shared::exchange(book.as_deref(), relay, json),
        Command::Devices(asked) => shared::devices(&asked, json),
        Command::Backup { to, book } => shared::back_up(&to, book.as_deref(), json),
        Command::Completions { shell } => completions::run(shell, json),
        Command::Man { dir } => man::run(dir.as_deref(), json),
    }
}
