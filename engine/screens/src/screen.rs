//! What is shown, as plain data: whoever draws it computes nothing and knows nothing of the trade.

use serde::{Deserialize, Serialize};

/// One screen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Screen {
    /// Where one is.
    pub place: Place,
    /// The line on top.
    pub top: Top,
    /// Why the last touch was not taken, or what else must be said first.
    pub notice: Option<Notice>,
    /// What can hurt, gravest first; cannot be hidden.
    pub cautions: Vec<Panel>,
    /// The one thing to do now.
    pub say: String,
    /// What stands under it.
    pub lines: Vec<Line>,
    /// Where the two probes go, where a reading between two places is asked for: red first.
    pub places: Vec<ProbePlace>,
    /// What the meter may show, where a reading is asked for.
    pub ruler: Option<Ruler>,
    /// How the machine stands while it is read: `unplugged`, `running: timed dry on high`.
    pub condition: Option<String>,
    /// The last reading on its ruler.
    pub last: Option<Ruler>,
    /// What lies under the thumb.
    pub pad: Pad,
    /// What the demo's appliance shows or its people say, where the demo answers.
    pub offered: Option<String>,
    /// Other things that can be done here.
    pub ways: Vec<Way>,
    /// Something can be taken back.
    pub undo: bool,
    /// Suspects, likeliest first.
    pub suspects: Vec<Suspect>,
    /// That nothing described explains all that was found, and what would; nothing while something does.
    pub unexplained: Vec<String>,
    /// What was done so far, the latest first.
    pub history: Vec<String>,
    /// The drawing, while its sheet is open.
    pub drawing: Option<Drawing>,
    /// The papers, while their sheet is open.
    pub papers: Vec<Paper>,
    /// How many photos the appliance has.
    pub photo_count: usize,
    /// The photos, while their sheet is open: the latest first, each a JPEG in base64.
    pub photos: Vec<Photo>,
    /// Curves, while their sheet is open or where the place shows them.
    pub curves: Vec<Plot>,
    /// What can be set or counted here.
    pub fields: Vec<Fields>,
    /// The shop has a server that sets pages as PDF.
    #[serde(default)]
    pub typesets: bool,
    /// What a lesson came to, once it is over.
    pub review: Option<Review>,
    /// Choices of the day, where the place is the day.
    pub day: Option<Day>,
}

/// Where one is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// The day: what goes on, what waits, a new call.
    Day,
    /// A call.
    Call,
    /// A call that has ended.
    Ended,
    /// A machine as it is described, without a call.
    Machine,
    /// Practice on a hidden fault.
    Practice,
    /// The van.
    Van,
    /// The shop's settings.
    Settings,
    /// A machine on its way into the book.
    Describe,
    /// The customers and their appliances.
    Customers,
    /// The plan of a day.
    Plan,
    /// Invoices, payments, the books.
    Money,
    /// Looking back on the months.
    Months,
    /// The shop's server and its devices.
    Devices,
    /// Words are asked for before anything is shown.
    Locked,
}

/// The line on top.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Top {
    /// Whose appliance.
    pub who: String,
    /// What machine.
    pub machine: String,
    /// When the technician arrived, with its offset; the clock is the shell's.
    pub since: Option<String>,
    /// The stages, in order.
    pub stages: Vec<Stage>,
    /// A line that must always be there, such as that everything is invented.
    pub note: Option<String>,
}

/// One stage of the call.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stage {
    /// Its name.
    pub say: String,
    /// Before, at or after it.
    pub standing: Standing,
}

/// How a stage stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Done.
    Done,
    /// Now.
    Now,
    /// To come.
    ToCome,
}

/// Something that must be said before all else.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Notice {
    /// What is wrong.
    pub say: String,
    /// What to do about it.
    pub mend: String,
}

/// A hazard panel. SOURCE: signal words after ANSI Z535.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Panel {
    /// The signal word.
    pub word: String,
    /// What to do about it.
    pub sentence: String,
}

/// A line under the move.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// What sort of line.
    pub sort: Sort,
    /// The words.
    pub say: String,
}

/// Where a probe goes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProbePlace {
    /// The label on the machine.
    pub label: String,
    /// The part it is on, if it is on one.
    pub part: Option<String>,
}

/// Sorts of lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sort {
    /// Done by hand within the step, in order.
    Do,
    /// What a sound machine shows.
    Expect,
    /// What an outcome would mean.
    Means,
    /// Why this.
    Why,
    /// What else could be done, and its price.
    Otherwise,
    /// Must be noticed.
    Notice,
    /// Plain.
    Plain,
}

/// A scale with what each suspect would show on it. Places are shares of its width, 0 to 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ruler {
    /// What is read, in words.
    pub title: String,
    /// Marks of the scale.
    pub marks: Vec<Mark>,
    /// Where a sound machine reads.
    pub healthy: (f64, f64),
    /// The same in words.
    pub healthy_say: String,
    /// What suspects predict, those that cannot be told apart together, likeliest first.
    pub hills: Vec<Hill>,
    /// Where the reading fell.
    pub plumb: Option<f64>,
    /// The reading in words, and that nothing explains it where that is so.
    pub say: Option<String>,
}

/// A mark of a scale.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// Place.
    pub at: f64,
    /// Figure, without its unit.
    pub label: String,
}

/// What one or more suspects predict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hill {
    /// Left end.
    pub from: f64,
    /// Right end.
    pub to: f64,
    /// Share of the suspects behind it, 0 to 1.
    pub share: f64,
    /// Their names.
    pub label: String,
    /// The figures in words.
    pub say: String,
    /// The reading missed it.
    pub missed: bool,
}

/// What lies under the thumb.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pad {
    /// One big button; `hold` where it must be held down: it makes something live.
    Button {
        /// What stands on it.
        label: String,
        /// What it answers.
        answer: String,
        /// Held, not tapped.
        hold: bool,
    },
    /// One of these.
    Choices(Vec<Choice>),
    /// What the meter shows.
    Reading {
        /// Unit as shown.
        unit: String,
    },
    /// What is seen of each: the answer is `what=value` for each, apart by spaces.
    Seen(Vec<Seen>),
    /// A picture of the machine, or word that it was taken elsewhere; the answer is [`crate::Touch::Photo`].
    Photo {
        /// What can be tapped instead.
        instead: Vec<Choice>,
    },
    /// A count.
    Count {
        /// As many as came out.
        expected: u32,
    },
    /// Words.
    Words {
        /// What to write.
        hint: String,
        /// Several things, each a field; the answer is theirs with commas between.
        fields: Vec<String>,
        /// What can be tapped instead.
        instead: Vec<Choice>,
    },
    /// A name, and a field to write it in by hand; the answer is [`crate::Touch::Sign`].
    Signature {
        /// Width and height of the field that the strokes' numbers count in.
        field: (u16, u16),
        /// Most points of all strokes.
        most_points: usize,
        /// What can be tapped instead.
        instead: Vec<Choice>,
    },
    /// Nothing is asked.
    Nothing,
}

/// One choice.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Choice {
    /// What it answers.
    pub answer: String,
    /// In words.
    pub say: String,
}

/// One thing to watch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seen {
    /// Its id.
    pub what: String,
    /// Its values.
    pub values: Vec<Choice>,
    /// The value of a sound machine.
    pub sound: String,
}

/// Something else that can be done here.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Way {
    /// In words.
    pub say: String,
    /// What is answered; where it ends in a space, words are asked for and added.
    pub answer: String,
    /// What words to ask for.
    pub words: Option<String>,
    /// What it belongs to, where there are many.
    pub group: Option<String>,
}

/// A suspect.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Suspect {
    /// The part, then the way it failed.
    pub say: String,
    /// Share now, 0 to 1.
    pub share: f64,
    /// Share before the last thing found.
    pub before: f64,
    /// The same as people say it: `3 in 4`.
    pub odds: String,
    /// What spoke for and against, weightiest first.
    pub reasons: Vec<String>,
}

/// The drawing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drawing {
    /// As SVG; a terminal's hit place carries `data-terminal`.
    pub svg: String,
    /// The state it shows, by id.
    pub state: String,
    /// What is drawn, and what a tap does.
    pub note: String,
    /// In words, in reading order.
    pub words: Vec<String>,
    /// Only what matters is drawn.
    pub folded: bool,
    /// The terminals with a probe on them in words, red first.
    pub probes: Vec<String>,
    /// What may be read between the two probes.
    pub rulers: Vec<Ruler>,
    /// What takes such a reading.
    pub take: Vec<Choice>,
    /// The states that can be drawn.
    pub states: Vec<Choice>,
}

/// Curves over one axis. Places are shares of width and height, 0 to 1, from the lower left.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plot {
    /// What is shown.
    pub title: String,
    /// What runs to the right, with its unit.
    pub across: String,
    /// What runs upwards, with its unit.
    pub upward: String,
    /// Marks along the lower edge.
    pub marks_across: Vec<Mark>,
    /// Marks along the left edge.
    pub marks_upward: Vec<Mark>,
    /// The curves, the weightiest first.
    pub curves: Vec<Curve>,
    /// What was really read.
    pub dots: Vec<(f64, f64)>,
    /// The same in words: a line for each curve, which is its key, then whatever else there is to say.
    pub words: Vec<String>,
}

/// One curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// What it is of.
    pub label: String,
    /// Its points, from left to right.
    pub points: Vec<(f64, f64)>,
}

/// A photo.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Photo {
    /// When it was taken and what it shows.
    pub say: String,
    /// The JPEG in base64.
    pub jpeg: String,
}

/// Fields that belong together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fields {
    /// What they are about.
    pub title: String,
    /// What must be known of all of them.
    pub note: Option<String>,
    /// The fields.
    pub fields: Vec<Field>,
}

/// Something that can be set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Field {
    /// Its id, for [`crate::Touch::Set`].
    pub id: String,
    /// What it is.
    pub say: String,
    /// Its value now, as it is typed; empty where there is none.
    pub value: String,
    /// Its unit, or what else must be known.
    pub note: String,
    /// How it is set.
    pub set: Setting,
}

impl Field {
    /// Makes a field.
    #[must_use]
    pub(crate) fn new(id: &str, say: &str, value: String, note: &str, set: Setting) -> Self {
        Self { id: id.to_owned(), say: say.to_owned(), value, note: note.to_owned(), set }
    }
}

/// How a field is set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Setting {
    /// A figure, typed.
    Typed,
    /// Words, typed.
    Words,
    /// The number on a box, typed or read off its bars by the camera where the browser can do that.
    Scan,
    /// Many lines, typed.
    Lines,
    /// One of many.
    OneOf(Vec<Choice>),
    /// Nothing is set: it is done when touched.
    Act,
    /// One of these.
    Choices(Vec<Choice>),
    /// Counted up and down.
    Count,
    /// The text of a file; a button with these words gives an empty one, where that means something.
    File(Option<String>),
    /// Nothing is set: it is shown.
    Shown,
    /// Nothing is set: the value is handed out as a file of this name.
    Save(String),
}

/// A lesson looked back upon.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Review {
    /// What was hidden, and how it went.
    pub verdict: String,
    /// The figures beside it.
    pub figures: Vec<String>,
    /// Each step of the learner's.
    pub steps: Vec<Reviewed>,
    /// What the tool would have done from the start.
    pub tool: Vec<String>,
}

/// One step of a lesson, looked back upon.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reviewed {
    /// What was done.
    pub did: String,
    /// What it took and what it was worth.
    pub worth: String,
    /// What the tool would have done there, where it is something else.
    pub tool: Option<String>,
}

/// A paper.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Paper {
    /// What it is.
    pub title: String,
    /// By which it is asked for, and the name of its file without an ending.
    pub id: String,
    /// As a page that stands by itself.
    pub html: String,
    /// As text.
    pub text: String,
}

/// The day.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Day {
    /// The call to go on with, in words.
    pub unfinished: Option<String>,
    /// Jobs that wait for another visit, in words.
    pub waiting: Vec<String>,
    /// Machines for a new call.
    pub machines: Vec<Choice>,
    /// Jobs closed in this book.
    pub closed: usize,
    /// Damaged records, in words; the rest is safe.
    pub damaged: Vec<String>,
}

impl Notice {
    /// Says that something could not be made durable, and why.
    pub(crate) fn not_kept(why: &str) -> Self {
        let mend = "nothing before it is lost; free some room and do it again".to_owned();
        Self { say: format!("that was not kept: {why}"), mend }
    }

    /// Says that a page could not be set as PDF, and why.
    #[must_use]
    pub fn not_set(why: String) -> Self {
        Self { say: why, mend: "the page itself can be handed out without a server".to_owned() }
    }

    /// Says why something was not taken.
    pub(crate) fn refused(refused: call::Refused) -> Self {
        Self { say: refused.say, mend: refused.mend }
    }
}

/// Gives the screen while something takes its time.
#[must_use]
pub fn one_moment(why: &str) -> Screen {
    let mut screen = Screen::of(Place::Months);
    "One moment".clone_into(&mut screen.say);
    screen.fields.push(Fields { title: why.to_owned(), note: None, fields: Vec::new() });
    screen
}

/// Gives the screen that asks for the words which unlock what is kept here.
#[must_use]
pub fn locked(wrong: bool) -> Screen {
    let mut screen = Screen::of(Place::Locked);
    "Locked".clone_into(&mut screen.say);
    let say =
        || Notice { say: "these are other words".to_owned(), mend: "look at the letters, then once more".to_owned() };
    screen.notice = wrong.then(say);
    let words = Field::new("words", "the words that unlock this phone", String::new(), "", Setting::Words);
    screen.fields.push(Fields { title: "Unlock".to_owned(), note: None, fields: vec![words] });
    screen
}

impl Screen {
    /// Makes an empty screen of a place.
    #[must_use]
    pub fn of(place: Place) -> Self {
        Self {
            place,
            top: Top::default(),
            notice: None,
            cautions: Vec::new(),
            say: String::new(),
            lines: Vec::new(),
            places: Vec::new(),
            ruler: None,
            condition: None,
            last: None,
            pad: Pad::Nothing,
            offered: None,
            ways: Vec::new(),
            undo: false,
            suspects: Vec::new(),
            unexplained: Vec::new(),
            history: Vec::new(),
            drawing: None,
            papers: Vec::new(),
            photo_count: 0,
            photos: Vec::new(),
            curves: Vec::new(),
            fields: Vec::new(),
            typesets: false,
            review: None,
            day: None,
        }
    }
}
