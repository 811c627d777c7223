//! A machine as it is described, without a call: its drawing in every state, what a sound one shows between two terminals,
//! how its zones warm up. Writes nothing.

use crate::curves;
use crate::drawn::{self, Drawn};
use crate::layers;
use crate::probing::Probing;
use crate::procedure::procedure;
use crate::ruler;
use crate::screen::{Choice, Field, Fields, Place, Screen, Setting};
use crate::touch::Touch;
use crate::typesetter::file_of;
use book::{Letterhead, TemperatureScale};
use danger::{Energy, LiveMap};
use documents::{Page, to_html};
use machine::faults::RepairKind;
use machine::model::{RepairId, StateId};
use prediction::Predictor;

/// A machine looked at.
#[derive(Debug)]
pub struct Study<'p, 'm> {
    predictor: &'p Predictor<'m>,
    temperatures: TemperatureScale,
    /// The state that is drawn first.
    first: StateId,
    probing: Probing,
    /// The repair whose procedure is written.
    repair: Option<RepairId>,
}

impl<'p, 'm> Study<'p, 'm> {
    /// Begins with the first state that heats, or else the second one, everything drawn.
    #[must_use]
    pub fn of(predictor: &'p Predictor<'m>, temperatures: TemperatureScale) -> Self {
        let mut states = (0..).map(StateId).take(predictor.machine().states.len());
        let heats = states.find(|state| !curves::of_machine(predictor, *state, temperatures).is_empty());
        let first = heats.unwrap_or(StateId(u16::from(predictor.machine().states.len() > 1)));
        Self { predictor, temperatures, first, probing: Probing::folded(false), repair: None }
    }

    /// Takes a touch of the drawing, and the repair whose procedure is wanted; others change nothing.
    pub fn touch(&mut self, touch: &Touch) {
        if let Touch::Set { id, value } = touch
            && id == "procedure"
        {
            let repairs = (0..).map(RepairId).zip(&self.predictor.machine().repairs);
            self.repair = repairs.into_iter().find(|(_, repair)| repair.id == *value).map(|(id, _)| id);
            return;
        }
        self.probing.touch(self.predictor.machine(), touch);
    }

    /// Gives everything that is shown.
    #[must_use]
    pub fn screen(&self) -> Screen {
        let machine = self.predictor.machine();
        let state = self.probing.state.unwrap_or(self.first);
        let live = LiveMap::of(machine, &Energy::found());
        let mut layers = layers::of_state(self.predictor, state, &[]);
        layers.live = Some(layers::terminals(machine).filter(|terminal| live.may_be_live(*terminal)).collect());
        let readings = drawn::ohms(&self.probing, state).into_iter().chain(drawn::volts(&self.probing, state));
        let rulers = readings.map(|reading| ruler::sound(self.predictor, &reading)).collect();
        let note = "Thick is what may be live with the plug in. Figures are the volts of a sound machine in this state. Tap \
                    two terminals to see what it shows there.";
        let (asked, matters) = (Vec::new(), Vec::new());
        let drawn = Drawn { machine, probing: &self.probing, state, layers, asked, matters, note };
        let mut screen = Screen::of(Place::Machine);
        screen.say.clone_from(&machine.title);
        screen.drawing = Some(drawn.show(rulers, Vec::new()));
        screen.curves = curves::of_machine(self.predictor, state, self.temperatures);
        screen.fields = vec![self.procedures()];
        screen
    }

    /// Gives the procedure of the chosen repair as a page.
    #[must_use]
    pub fn page(&self) -> Option<Page> {
        procedure(self.predictor, self.repair?, &Letterhead::default()).ok()
    }

    /// The repairs that have a procedure, and the chosen one's as a page.
    fn procedures(&self) -> Fields {
        let machine = self.predictor.machine();
        let mendable = machine.repairs.iter().filter(|repair| repair.kind != RepairKind::Refer);
        let each = mendable.map(|repair| Choice { answer: repair.id.clone(), say: repair.say.clone() });
        let none = Choice { answer: String::new(), say: "which repair?".to_owned() };
        let chosen = self.repair.map_or_else(String::new, |repair| machine[repair].id.clone());
        let choices = Setting::OneOf(std::iter::once(none).chain(each).collect());
        let mut fields = vec![Field::new("procedure", "repair", chosen, "", choices)];
        if let Some(page) = self.page() {
            let file = file_of(&page, "html");
            fields.push(Field::new("page", "hand the procedure out", to_html(&page), "", Setting::Save(file)));
        }
        Fields { title: "A repair as a procedure".to_owned(), note: None, fields }
    }
}
