//! What can be asked on the command line.

use clap::{ArgGroup, Parser, Subcommand};
use clap_complete::Shell;
use rehearsal::practice::Difficulty;
use std::net::SocketAddr;
use std::path::PathBuf;

/// Finds the fault in a household appliance with as few readings, covers and live tests as possible.
///
/// MACHINE is the id of a shipped machine (see `callwright machines`) or the path of a description; CALLFILE is the
/// record of a call as a text file. With --json every command prints one JSON object on standard output.
///
/// Local codes and licensed practice come first. What may be live is measured dead before it is touched.
#[derive(Debug, Parser)]
#[command(name = "callwright", version, about, long_about, after_help = EXIT_CODES)]
pub(crate) struct Args {
    /// Print one JSON object instead of text.
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// Your own meters (docs/meter-format.md); without it, `callwright/meters.toml` of your configuration folder, else
    /// in a call those of the settings, else an ordinary meter without a clamp. Used by next, suspects, measure, certify, verify and call.
    #[arg(long, global = true, value_name = "FILE")]
    pub(crate) meters: Option<PathBuf>,
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

const EXIT_CODES: &str =
    "Exit codes: 0 done, 1 the input is at fault, 2 the set-up is at fault, 255 a bug of callwright";

/// The commands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// List the shipped machines.
    Machines,
    /// Read descriptions, simulate them, and print every mistake with its place and its mend.
    Check {
        /// Machine files (or shipped ids).
        #[arg(required = true, value_name = "FILE")]
        files: Vec<String>,
    },
    /// Print the JSON Schema of machine files.
    Schema,
    /// Predict what a meter shows between two terminals, or around a part.
    Measure(Measure),
    /// List what a person would notice, for one set of faults or for each single fault.
    Symptoms {
        /// Machine.
        machine: String,
        /// Faults present, as PART:MODE; without any, every single fault is listed.
        #[arg(long = "fault", value_name = "PART:MODE")]
        faults: Vec<String>,
    },
    /// List what published standards and the trade ask of work on a machine of this sort.
    Duties {
        /// Machine.
        machine: String,
    },
    /// List the faults that no reading tells apart, and the further point that would part them.
    Testability {
        /// Machine.
        machine: String,
        /// A place that stays closed, so that nothing there is read.
        #[arg(long = "closed", value_name = "PLACE")]
        closed: Vec<String>,
    },
    /// Say in which parts, leads and values two descriptions differ.
    Compare {
        /// Machine.
        one: String,
        /// The machine it is compared with.
        other: String,
    },
    /// Describe a machine by what its rating plate says differs from a described one; asks for the rest.
    New(New),
    /// Describe a machine by the wiring as read off the sheet in its cabinet (docs/describe-a-machine.md).
    Sheet(SheetOf),
    /// Weigh the suspects of a call.
    Suspects {
        /// The call's record.
        callfile: PathBuf,
        /// How many to print.
        #[arg(long, default_value_t = 12)]
        top: usize,
        /// Faults that may be there at once; three are weighed unasked where one and two explain badly.
        #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u8).range(2..=3))]
        faults: Option<u8>,
    },
    /// Propose the next step of a call.
    Next {
        /// The call's record.
        callfile: PathBuf,
        /// How many states the planner may expand.
        #[arg(long, default_value_t = 20_000)]
        nodes: usize,
    },
    /// Certify a strong claim of a call, with the bounds that exclude every other single fault and every pair.
    Certify(Certify),
    /// Verify a certificate by a route of its own, whoever made it.
    Verify(Verify),
    /// Write the way in to a part and the way back.
    Teardown {
        /// Machine.
        machine: String,
        /// The part (or parts) to get at.
        #[arg(long = "to", value_name = "PART", required = true)]
        to: Vec<String>,
    },
    /// Write a repair as a procedure to teach or work by: tools, cautions, the way in, the change, the way back, proofs.
    Procedure {
        /// Machine.
        machine: String,
        /// The repair, such as `heater:replace`.
        repair: String,
        /// Write it to this file as a page with its drawing; without it, it is printed as text.
        #[arg(long, value_name = "FILE")]
        html: Option<PathBuf>,
        /// Typeset it as PDF into this file.
        #[arg(long, value_name = "FILE")]
        pdf: Option<PathBuf>,
        /// The shop's name over it.
        #[arg(long, value_name = "NAME", default_value = "")]
        shop: String,
    },
    /// List what may be live, at worst, whatever is believed.
    Live {
        /// Machine.
        machine: String,
        /// With the plug out (or the disconnect off).
        #[arg(long)]
        isolated: bool,
    },
    /// Draw the machine as a ladder diagram: as SVG for the screen or a page, as a list in words, or with --json as a scene.
    Drawing(Drawing),
    /// Reckon how long a zone takes to a temperature with the heat left on, from rest.
    Warmup(Warmup),
    /// Rehearse calls on units with hidden faults, beside a checklist and plain value of information.
    Rehearse {
        /// Machine.
        machine: String,
        /// How many calls.
        #[arg(long, default_value_t = 100)]
        calls: usize,
        /// Seed of everything drawn.
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// On units that differ from the description in one thing: is it said before a wrong part is changed?
        #[arg(long)]
        misdescribed: bool,
        /// File with the parts on the van, one part's id a line; without it what the machine's file calls stocked.
        #[arg(long)]
        van: Option<PathBuf>,
        /// Share of calls with an unrelated dangerous fault planted, 0 to 1.
        #[arg(long, default_value_t = 0.1)]
        planted: f64,
    },
    /// Practise: find a hidden fault by steps of your own, and see what each was worth.
    Practice(Practice),
    /// Work through a call: asks, proposes, takes readings as typed, and goes on where it stopped.
    Call(Call),
    /// Show the shop's settings, and set some; calls that are open keep theirs.
    ///
    /// What can be set is listed, such as `per-hour=125`, `clamp=yes` or `meters=@FILE`.
    Settings(AtCounter),
    /// Show and write a machine of the shop's own as the app does, checked at every change, and keep it in the book.
    ///
    /// What can be set is listed, such as `from=dryer-timer-240`, `id=attic`, `watts=4800`, `lines=@FILE` or `keep=`.
    Own(AtCounter),
    /// Show the customers and their appliances; choose one, change, erase, begin a job again, take in a list.
    ///
    /// What can be set is listed, such as `customer=ID`, `at=48.137,11.575`, `new/APPLIANCE=`, `list=@FILE` and then `take=`.
    Customers(AtCounter),
    /// Show what is to be invoiced and paid; issue papers, take payments, hand out the books.
    ///
    /// What can be set is listed, such as `invoice/JOB=`, `paid/JOB=card`, `part/JOB=50 cash` or `credit/PAPER=why`.
    Money(AtCounter),
    /// Look back on the months: first-visit fixes, callbacks, money, calibration; take up what closed jobs teach.
    ///
    /// What can be set is listed, such as `month=2026-03`, `take/MACHINE=` or `take-habits=`.
    Months(AtCounter),
    /// Write the demo's shop into an empty book: an invented year of calls and an invented Monday's visits.
    DemoShop {
        /// The book; must be empty or not there.
        #[arg(long, value_name = "FILE")]
        book: PathBuf,
        /// How many closed jobs before the Monday.
        #[arg(long, default_value_t = 120)]
        jobs: usize,
        /// Seed of everything drawn.
        #[arg(long, default_value_t = 1)]
        seed: u64,
    },
    /// Print the template by which papers are typeset, to be changed, or try your own before it is kept in the settings.
    Papers {
        /// Try this template on a page that has every kind of block.
        #[arg(long, value_name = "FILE")]
        check: Option<PathBuf>,
    },
    /// Weigh a repair against a new appliance: what each costs over the same years, and what that rests on.
    Worth(Worth),
    /// Plan a day's visits: their order within promised windows, how sure it is, and what to load.
    ///
    /// What can be set is listed, such as `day=2026-12-01`, `now=10:40`, `travel=@FILE` or `loaded=`.
    Plan(AtCounter),
    /// Show what is on the van, and count some of it.
    Van {
        /// What was counted, such as `dryer-timer-240/heater=2`.
        #[arg(long = "count", value_name = "MACHINE/PART=COUNT")]
        count: Vec<String>,
        /// The book; without it, the one in the data folder.
        #[arg(long, value_name = "FILE")]
        book: Option<PathBuf>,
    },
    /// Play touches on the app's screens without a browser and print what is shown after the last; nothing is kept.
    Screen(Shown),
    /// Serve the app's static folder (`make app`) to browsers and, with --book, the shop's book to its devices.
    ///
    /// To this machine alone if nothing else is said; elsewhere only over TLS (docs/operations.md).
    Serve(Serve),
    /// Have this book let in by a shop's server, by the code that a trusted device shows.
    Pair {
        /// The server's address, such as `https://shop.example`.
        server: String,
        /// The code.
        code: String,
        /// What people call this device.
        #[arg(long, value_name = "NAME", default_value = "this machine")]
        name: String,
        /// Trust servers that this certificate (PEM) vouches for, and no others.
        #[arg(long, value_name = "FILE")]
        trust: Option<PathBuf>,
        /// The book; without it, the one in the data folder.
        #[arg(long, value_name = "FILE")]
        book: Option<PathBuf>,
    },
    /// Exchange this book with the shop's server until both hold the same.
    Exchange {
        /// Send what other devices wrote too, after the server was restored from an older backup (owner only).
        #[arg(long)]
        relay: bool,
        /// The book; without it, the one in the data folder.
        #[arg(long, value_name = "FILE")]
        book: Option<PathBuf>,
    },
    /// List the devices the server lets in, await a new one, shut one out, or read who saw and changed what.
    Devices(Devices),
    /// Copy the book into a new file, as it is at one moment, while it may be written to.
    Backup {
        /// The new file.
        to: PathBuf,
        /// The book; without it, the one in the data folder.
        #[arg(long, value_name = "FILE")]
        book: Option<PathBuf>,
    },
    /// Print what a shell needs to complete the commands.
    Completions {
        /// The shell.
        shell: Shell,
    },
    /// Print the manual page, or write one for every command into a folder.
    Man {
        /// The folder; made if it is not there.
        dir: Option<PathBuf>,
    },
}

/// What to weigh, and what to assume.
#[derive(Debug, Parser)]
pub(crate) struct Worth {
    /// Machine.
    pub(crate) machine: String,
    /// Price of the repair.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) repair: f64,
    /// Paid for the call where a new one is bought.
    #[arg(long, default_value_t = 95.0, value_name = "AMOUNT")]
    pub(crate) call_out: f64,
    /// Age, years; half a life where it is not known.
    #[arg(long, value_name = "YEARS")]
    pub(crate) age: Option<f64>,
    /// Price of a new one, delivered.
    #[arg(long = "new", value_name = "AMOUNT")]
    pub(crate) new_price: Option<f64>,
    /// How long such appliances last on average, years.
    #[arg(long, value_name = "YEARS")]
    pub(crate) life: Option<f64>,
    /// What somebody else asks for the repair.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) refer: Option<f64>,
    /// What the old one uses more of electricity than a new one, kWh a year.
    #[arg(long, value_name = "KWH")]
    pub(crate) kwh_more: Option<f64>,
    /// Price of a kWh.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) energy_price: Option<f64>,
    /// What the old one uses more besides, money a year.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) uses_more: Option<f64>,
    /// Further repairs, money a year.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) repairs: Option<f64>,
    /// Warranty of a new one, years.
    #[arg(long, value_name = "YEARS")]
    pub(crate) warranty: Option<f64>,
    /// Interest, per cent a year.
    #[arg(long, value_name = "PERCENT")]
    pub(crate) interest: Option<f64>,
    /// Years that are looked ahead.
    #[arg(long, value_name = "YEARS")]
    pub(crate) years: Option<u32>,
}

/// What to serve, where, to whom.
#[derive(Debug, Parser)]
pub(crate) struct Serve {
    /// The app's folder.
    pub(crate) folder: PathBuf,
    /// Address and port to listen on; port 0 takes a free one.
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8787")]
    pub(crate) at: SocketAddr,
    /// The shop's book: a file, or the address of a PostgreSQL database as `postgres://...`.
    #[arg(long, value_name = "BOOK")]
    pub(crate) book: Option<String>,
    /// A name by which the server is called (with its port unless it is the usual one); may be given several times.
    #[arg(long = "host", value_name = "NAME")]
    pub(crate) hosts: Vec<String>,
    /// Certificate with its chain, in PEM.
    #[arg(long, value_name = "FILE", requires = "key")]
    pub(crate) certificate: Option<PathBuf>,
    /// The certificate's key, in PEM.
    #[arg(long, value_name = "FILE", requires = "certificate")]
    pub(crate) key: Option<PathBuf>,
    /// Have a certificate for this name fetched and renewed from an ACME authority; may be given several times.
    #[arg(long, value_name = "NAME", conflicts_with = "certificate", requires = "contact")]
    pub(crate) acme: Vec<String>,
    /// Mail address the authority writes to when something is wrong.
    #[arg(long, value_name = "MAIL")]
    pub(crate) contact: Option<String>,
    /// The authority's directory, where it is another than the usual public one.
    #[arg(long, value_name = "URL", requires = "acme")]
    pub(crate) acme_directory: Option<String>,
    /// Authorities that vouch for that directory, in PEM, where it is not one of the web's.
    #[arg(long, value_name = "FILE", requires = "acme_directory")]
    pub(crate) acme_authorities: Option<PathBuf>,
    /// Folder where fetched certificates are kept.
    #[arg(long, value_name = "FOLDER", default_value = "certificates")]
    pub(crate) acme_cache: PathBuf,
    /// The shop's own template of a typeset page.
    #[arg(long, value_name = "FILE")]
    pub(crate) template: Option<PathBuf>,
}

/// What to do with the server's devices.
#[derive(Debug, Parser)]
#[command(group(ArgGroup::new("do").args(["await_role", "revoke", "seen"])))]
pub(crate) struct Devices {
    /// Await a new device of this role (technician, office or owner) and print the code for it.
    #[arg(long = "await", value_name = "ROLE")]
    pub(crate) await_role: Option<String>,
    /// Shut this device out.
    #[arg(long, value_name = "DEVICE")]
    pub(crate) revoke: Option<String>,
    /// Print who saw and changed what, the latest first.
    #[arg(long)]
    pub(crate) seen: bool,
    /// The book; without it, the one in the data folder.
    #[arg(long, value_name = "FILE")]
    pub(crate) book: Option<PathBuf>,
}

/// What to do with a list of fields: those of one of the app's own screens.
#[derive(Debug, Parser)]
pub(crate) struct AtCounter {
    /// What to set, in order; after `@` the text of a file.
    #[arg(long = "set", value_name = "ID=VALUE")]
    pub(crate) set: Vec<String>,
    /// Print what is handed out as a file under this id, and nothing else.
    #[arg(long, value_name = "ID")]
    pub(crate) hand_out: Option<String>,
    /// Typeset the paper or quote that is handed out under the id as PDF into this file.
    #[arg(long, value_name = "FILE", requires = "hand_out")]
    pub(crate) pdf: Option<PathBuf>,
    /// The book; without it, the one in the data folder.
    #[arg(long, value_name = "FILE")]
    pub(crate) book: Option<PathBuf>,
}

/// What to show.
#[derive(Debug, Parser)]
pub(crate) struct Shown {
    /// Machine; the demo's if left out.
    pub(crate) machine: Option<String>,
    /// With the demo's appliance and people behind it.
    #[arg(long)]
    pub(crate) demo: bool,
    /// Touches, one a line as JSON, such as {"answer":"15.2"}, "take-offered", "undo", {"probe":"heater.1"}; `-` reads
    /// standard input.
    #[arg(long, value_name = "FILE")]
    pub(crate) touches: Option<PathBuf>,
}

/// What to certify.
#[derive(Debug, Parser)]
pub(crate) struct Certify {
    /// The call's record.
    pub(crate) callfile: PathBuf,
    /// The repair, such as `heater:replace`; the likeliest one if left out.
    #[arg(long, value_name = "REPAIR")]
    pub(crate) repair: Option<String>,
    /// Certify that nothing is wrong.
    #[arg(long, conflicts_with = "repair")]
    pub(crate) nothing_wrong: bool,
    /// Write the certificate to this file.
    #[arg(long, value_name = "FILE")]
    pub(crate) to: Option<PathBuf>,
}

/// What to verify.
#[derive(Debug, Parser)]
pub(crate) struct Verify {
    /// The certificate, as `certify --to` writes it.
    pub(crate) certificate: PathBuf,
    /// The call's record: the certificate must take as given what it says, and nothing else.
    #[arg(long, value_name = "CALLFILE")]
    pub(crate) call: Option<PathBuf>,
    /// The machine, where it is not a shipped one and no call is given.
    #[arg(long, value_name = "MACHINE", conflicts_with = "call")]
    pub(crate) machine: Option<String>,
}

/// What to measure.
#[derive(Debug, Parser)]
#[command(group(ArgGroup::new("what").required(true).args(["volts", "ohms", "farads", "amps", "temperature"])))]
pub(crate) struct Measure {
    /// Machine.
    pub(crate) machine: String,
    /// State that runs; with --isolated, the state whose controls are set.
    #[arg(long, required_unless_present = "isolated")]
    pub(crate) state: Option<String>,
    /// Unplugged, cold and at rest.
    #[arg(long)]
    pub(crate) isolated: bool,
    /// Faults present.
    #[arg(long = "fault", value_name = "PART:MODE")]
    pub(crate) faults: Vec<String>,
    /// Lift the leads at a terminal.
    #[arg(long = "lift", value_name = "TERMINAL")]
    pub(crate) lifts: Vec<String>,
    /// AC volts between two terminals.
    #[arg(long, num_args = 2, value_names = ["A", "B"])]
    pub(crate) volts: Option<Vec<String>>,
    /// Ohms between two terminals; the machine must be isolated.
    #[arg(long, num_args = 2, value_names = ["A", "B"], requires = "isolated")]
    pub(crate) ohms: Option<Vec<String>>,
    /// Capacitance between two terminals; the machine must be isolated. Lift a lead, or what is in parallel is read too.
    #[arg(long, num_args = 2, value_names = ["A", "B"], requires = "isolated")]
    pub(crate) farads: Option<Vec<String>>,
    /// Amperes through a part.
    #[arg(long, value_name = "PART")]
    pub(crate) amps: Option<String>,
    /// A thermometer in a zone, some minutes after the state was switched on from rest.
    #[arg(long, value_name = "ZONE", requires = "after", conflicts_with = "isolated")]
    pub(crate) temperature: Option<String>,
    /// Minutes after the start.
    #[arg(long, value_name = "MIN", requires = "temperature")]
    pub(crate) after: Option<f64>,
}

/// What to draw.
#[derive(Debug, Parser)]
#[command(group(ArgGroup::new("as").args(["svg", "text"])))]
pub(crate) struct Drawing {
    /// Machine.
    pub(crate) machine: String,
    /// State whose contacts, current and volts are shown; without it, contacts at rest.
    #[arg(long)]
    pub(crate) state: Option<String>,
    /// Faults present.
    #[arg(long = "fault", value_name = "PART:MODE", requires = "state")]
    pub(crate) faults: Vec<String>,
    /// Show what may be live, at worst, whatever is believed.
    #[arg(long)]
    pub(crate) live: bool,
    /// Draw only the ways through these parts and fold the rest away.
    #[arg(long, value_name = "PART", num_args = 1..)]
    pub(crate) only: Vec<String>,
    /// Write SVG to this file; without it, the list in words is printed.
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
    /// Size of the SVG: one page of this paper, lying; without it, it fills the window.
    #[arg(long, value_name = "PAPER", requires = "svg")]
    pub(crate) paper: Option<PaperWord>,
    /// Print the list in words (also the default).
    #[arg(long)]
    pub(crate) text: bool,
}

/// Paper that a drawing is printed on.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub(crate) enum PaperWord {
    /// 297 by 210 mm.
    A4,
    /// 11 by 8.5 in.
    Letter,
}

/// The wiring off a sheet.
#[derive(Debug, Parser)]
pub(crate) struct SheetOf {
    /// File with the lines of the sheet, such as `L1 - fuse - heater 1500W - N`; `-` reads them from standard input.
    pub(crate) sheet: String,
    /// Id of the description: lower case, digits, hyphens.
    #[arg(long)]
    pub(crate) id: String,
    /// One line for a person.
    #[arg(long)]
    pub(crate) title: Option<String>,
    /// For a house of one line of 230 V, 50 Hz; without it 120/240 V, 60 Hz.
    #[arg(long = "230")]
    pub(crate) line_230: bool,
    /// File to write; `ID.toml` here if left out.
    #[arg(long, value_name = "FILE")]
    pub(crate) file: Option<PathBuf>,
}

/// What a rating plate says, and of which machine.
#[derive(Debug, Parser)]
pub(crate) struct New {
    /// Id of the new description: lower case, digits, hyphens.
    pub(crate) id: String,
    /// Machine that it builds on.
    #[arg(long)]
    pub(crate) based_on: String,
    /// What the plate says: `volts=230,watts=2100,hertz=50`, or some of it.
    #[arg(long, value_name = "KEY=NUMBER,...")]
    pub(crate) plate: Option<String>,
    /// One line for a person.
    #[arg(long)]
    pub(crate) title: Option<String>,
    /// Watts of a heater or lamp, instead of being asked.
    #[arg(long = "watts", value_name = "PART=WATTS")]
    pub(crate) watts: Vec<String>,
    /// Ask nothing: what is not given goes with the plate.
    #[arg(long)]
    pub(crate) ask_nothing: bool,
    /// File to write; `ID.toml` here if left out.
    #[arg(long, value_name = "FILE")]
    pub(crate) file: Option<PathBuf>,
}

/// What warms up, and how.
#[derive(Debug, Parser)]
pub(crate) struct Warmup {
    /// Machine.
    pub(crate) machine: String,
    /// State that runs.
    #[arg(long)]
    pub(crate) state: String,
    /// Temperature waited for: `350F`, `175C`, or a plain number in °C.
    #[arg(long, value_name = "TEMP")]
    pub(crate) to: String,
    /// Volts of the supply, between the legs where there are two; those of the description if left out.
    #[arg(long, value_name = "VOLTS")]
    pub(crate) supply: Option<f64>,
    /// Faults present.
    #[arg(long = "fault", value_name = "PART:MODE")]
    pub(crate) faults: Vec<String>,
    /// The zone; may be left out where only one warms up.
    #[arg(long)]
    pub(crate) zone: Option<String>,
}

/// What to practise on.
#[derive(Debug, Parser)]
pub(crate) struct Practice {
    /// Machine.
    pub(crate) machine: String,
    /// How hard.
    #[arg(long, default_value = "plain")]
    pub(crate) difficulty: DifficultyWord,
    /// Which hidden fault, as a seed.
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// Steps done, in order, as they are typed: `ohms heater.1 heater.2`, `volts A B in heat`, `look PART`, `run STATE`,
    /// `change REPAIR`, `explain`, `refer`; without any, they are asked for at a terminal.
    #[arg(long = "do", value_name = "STEP")]
    pub(crate) steps: Vec<String>,
}

/// How hard a lesson is.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub(crate) enum DifficultyWord {
    /// One steady fault, its repair among the three likeliest after the complaint.
    Plain,
    /// One steady fault, its repair further down.
    Usual,
    /// Two faults, or one that comes and goes.
    Hard,
}

impl From<DifficultyWord> for Difficulty {
    fn from(word: DifficultyWord) -> Self {
        match word {
            DifficultyWord::Plain => Self::Plain,
            DifficultyWord::Usual => Self::Usual,
            DifficultyWord::Hard => Self::Hard,
        }
    }
}

/// How to work through a call.
#[derive(Debug, Parser)]
pub(crate) struct Call {
    /// Machine; asked for when left out and no call was broken off.
    #[arg(conflicts_with = "from")]
    pub(crate) machine: Option<String>,
    /// Play a call from its record instead of asking.
    #[arg(long, value_name = "CALLFILE", conflicts_with = "demo")]
    pub(crate) from: Option<PathBuf>,
    /// The demo: an invented shop's call on an invented dryer with a hidden fault; Enter accepts what the appliance
    /// itself would show.
    #[arg(long)]
    pub(crate) demo: bool,
    /// Hidden fault of the demo appliance, as a seed.
    #[arg(long, default_value_t = 7, requires = "demo")]
    pub(crate) seed: u64,
    /// The book to write to; without it, the one in the data folder.
    #[arg(long, value_name = "FILE")]
    pub(crate) book: Option<PathBuf>,
    /// Charge for getting there and finding the fault; that of the settings if left out.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) call_out: Option<String>,
    /// Charge for an hour of repair; that of the settings if left out.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) per_hour: Option<String>,
}
