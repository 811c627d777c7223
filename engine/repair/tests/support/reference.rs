//! Reads troubleshooting problems in the JSON form of the reference cases, for tests and examples.
//!
//! The form: `hypotheses` (sets of named faults with priors), `groups` (covers, paid once, with a parent), `modes`
//! (initial mode and prices `from>to`), `tests` (outcome probabilities by fault; with several faults present a sure test
//! shows the worst of them), `repairs` (faults fixed, a perfect check included) and `exit`.

use repair::plan::{Action, Check, Group, Hypothesis, Problem, ProblemParts, Repair, Situation, Test};
use serde_json::Value;
use std::error::Error;

/// Anything that can be wrong with a file.
pub(crate) type Failure = Box<dyn Error>;

/// A problem with the names its file gives.
#[derive(Debug)]
pub(crate) struct Reference {
    /// The problem.
    pub(crate) problem: Problem,
    /// Where it starts.
    pub(crate) start: Situation,
    /// Ids of the tests.
    pub(crate) tests: Vec<String>,
    /// Ids of the repairs.
    pub(crate) repairs: Vec<String>,
}

impl Reference {
    /// Reads a problem from text.
    ///
    /// # Errors
    /// The text is no JSON, lacks an entry, or names what is not there.
    pub(crate) fn read(text: &str) -> Result<Self, Failure> {
        let js: Value = serde_json::from_str(text)?;
        let names = Names::read(&js)?;
        let mut parts = ProblemParts {
            hypotheses: hypotheses(&js, &names)?,
            groups: groups(&js, &names)?,
            switch: switch(&js, &names)?,
            repairs: list(&js, "repairs").iter().map(|r| repair(r, &names)).collect::<Result<_, _>>()?,
            exit: js.get("exit").filter(|e| !e.is_null()).map(|e| number(e, "cost")).transpose()?,
            tests: Vec::new(),
        };
        for faults in parts.missing_remainders() {
            parts.hypotheses.push(Hypothesis { faults, weight: 0.0 });
        }
        let tests = list(&js, "tests").iter().map(|t| test(t, &names, &parts.hypotheses));
        parts.tests = tests.collect::<Result<_, _>>()?;
        let problem = Problem::new(parts)?;
        let start = problem.start(names.initial);
        let ids = |key| list(&js, key).iter().map(|x| text_of(x, "id")).collect::<Result<Vec<_>, _>>();
        Ok(Self { problem, start, tests: ids("tests")?, repairs: ids("repairs")? })
    }

    /// Names an action by the id its file gives it; repairs done together are joined by `+`.
    #[must_use]
    pub(crate) fn name(&self, action: &Action) -> String {
        match action {
            Action::Test(t) => self.tests[*t].clone(),
            Action::Repair(list) => list.iter().map(|r| self.repairs[*r].as_str()).collect::<Vec<_>>().join("+"),
            Action::Exit => "exit".to_owned(),
        }
    }
}

struct Names {
    faults: Vec<String>,
    groups: Vec<String>,
    modes: Vec<String>,
    initial: usize,
}

impl Names {
    fn read(js: &Value) -> Result<Self, Failure> {
        let mut faults: Vec<String> = Vec::new();
        for h in list(js, "hypotheses") {
            faults.extend(texts(h, "faults")?);
        }
        for r in list(js, "repairs") {
            faults.extend(texts(r, "fixes")?);
        }
        faults.sort();
        faults.dedup();
        let groups = list(js, "groups").iter().map(|g| text_of(g, "id")).collect::<Result<_, _>>()?;
        let mut modes: Vec<String> = Vec::new();
        let mut initial = 0;
        if let Some(m) = js.get("modes").filter(|m| !m.is_null()) {
            let first = text_of(m, "initial")?;
            modes.push(first.clone());
            for key in m["switch"].as_object().into_iter().flat_map(|o| o.keys()) {
                modes.extend(key.split('>').map(str::to_owned));
            }
            modes.sort();
            modes.dedup();
            initial = find(&modes, &first)?;
        }
        Ok(Self { faults, groups, modes, initial })
    }
}

fn list<'a>(js: &'a Value, key: &str) -> &'a [Value] {
    js.get(key).and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

fn text_of(js: &Value, key: &str) -> Result<String, Failure> {
    js[key].as_str().map(str::to_owned).ok_or_else(|| format!("`{key}` is missing in {js}").into())
}

fn texts(js: &Value, key: &str) -> Result<Vec<String>, Failure> {
    let text =
        |v: &Value| v.as_str().map(str::to_owned).ok_or_else(|| format!("`{key}` has an entry that is no name").into());
    list(js, key).iter().map(text).collect()
}

fn number(js: &Value, key: &str) -> Result<f64, Failure> {
    js[key].as_f64().ok_or_else(|| format!("`{key}` is no number in {js}").into())
}

fn find(names: &[String], name: &str) -> Result<usize, Failure> {
    names.iter().position(|n| n == name).ok_or_else(|| format!("`{name}` is not listed").into())
}

fn places(names: &[String], js: &Value, key: &str) -> Result<Vec<usize>, Failure> {
    texts(js, key)?.iter().map(|n| find(names, n)).collect()
}

fn mode(js: &Value, names: &Names) -> Result<Option<usize>, Failure> {
    js.get("mode").and_then(Value::as_str).map(|m| find(&names.modes, m)).transpose()
}

fn hypotheses(js: &Value, names: &Names) -> Result<Vec<Hypothesis>, Failure> {
    let one = |h: &Value| Ok(Hypothesis { faults: places(&names.faults, h, "faults")?, weight: number(h, "prior")? });
    list(js, "hypotheses").iter().map(one).collect()
}

fn groups(js: &Value, names: &Names) -> Result<Vec<Group>, Failure> {
    let one = |g: &Value| {
        let parent = g.get("parent").and_then(Value::as_str).map(|p| find(&names.groups, p)).transpose()?;
        Ok(Group { open: number(g, "cost")?, parents: parent.into_iter().collect(), ..Group::default() })
    };
    list(js, "groups").iter().map(one).collect()
}

fn switch(js: &Value, names: &Names) -> Result<Vec<Vec<f64>>, Failure> {
    let price = |from: &String, to: &String| {
        // A pair without a price is never asked for in a file that can be solved; a high price keeps it so.
        js["modes"]["switch"].get(format!("{from}>{to}")).and_then(Value::as_f64).unwrap_or(if from == to {
            0.0
        } else {
            1e9
        })
    };
    Ok(names.modes.iter().map(|from| names.modes.iter().map(|to| price(from, to)).collect()).collect())
}

fn repair(r: &Value, names: &Names) -> Result<Repair, Failure> {
    Ok(Repair {
        cost: number(r, "cost")?,
        groups: places(&names.groups, r, "groups")?,
        mode: mode(r, names)?,
        fixes: places(&names.faults, r, "fixes")?,
        success: 1.0,
        check: Check::default(),
    })
}

fn test(t: &Value, names: &Names, hypotheses: &[Hypothesis]) -> Result<Test, Failure> {
    let row = |fault: &usize| -> Result<Vec<f64>, Failure> {
        let row = list(&t["p"], &names.faults[*fault]);
        row.iter().map(|p| p.as_f64().ok_or_else(|| "a probability is no number".into())).collect()
    };
    let worst = |h: &Hypothesis| -> Result<Vec<f64>, Failure> {
        let rows = h.faults.iter().map(row).collect::<Result<Vec<_>, _>>()?;
        rows.into_iter()
            .max_by(|a, b| a.iter().rev().partial_cmp(b.iter().rev()).unwrap_or(std::cmp::Ordering::Equal))
            .ok_or_else(|| "a hypothesis has no fault".into())
    };
    Ok(Test {
        cost: number(t, "cost")?,
        groups: places(&names.groups, t, "groups")?,
        mode: mode(t, names)?,
        outcomes: hypotheses.iter().map(worst).collect::<Result<_, _>>()?,
    })
}
