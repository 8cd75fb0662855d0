//! What is varied: a given, or the price of a resource, with the values it may take.

use crate::check::Pin;
use crate::number::Exact;
use crate::program::{Program, Ty, ValueKind};
use crate::table::SchemaValue;
use crate::units::{Base, Dim, Style, UnitExpr, default_unit, format_quantity};

/// What is varied.
#[derive(Debug, Clone, PartialEq)]
pub struct Subject {
    /// Name of the given, or of the resource whose price it is.
    pub name: String,
    /// What it is.
    pub kind: SubjectKind,
}

/// Kinds of subjects.
#[derive(Debug, Clone, PartialEq)]
pub enum SubjectKind {
    /// A given that is a number.
    Number {
        /// Its value as decided, in base units.
        value: Exact,
        /// Low and high end, in base units, when it states them.
        range: Option<(Exact, Exact)>,
        /// Unit it is shown in.
        unit: UnitExpr,
    },
    /// A given that is one of a few.
    Few(Vec<(String, SchemaValue)>),
    /// The price of a resource, in currency for a base unit.
    Price {
        /// Unit it is shown in: money per unit.
        unit: UnitExpr,
    },
}

impl Subject {
    /// As people name it.
    pub fn title(&self) -> String {
        match self.kind {
            SubjectKind::Price { .. } => format!("price of {}", self.name),
            SubjectKind::Number { .. } | SubjectKind::Few(_) => self.name.clone(),
        }
    }

    /// The unit of its values, for numbers.
    pub fn unit(&self) -> Option<&UnitExpr> {
        match &self.kind {
            SubjectKind::Number { unit, .. } | SubjectKind::Price { unit } => Some(unit),
            SubjectKind::Few(_) => None,
        }
    }

    /// The stated range, in base units.
    pub fn range(&self) -> Option<(Exact, Exact)> {
        match &self.kind {
            SubjectKind::Number { range, .. } => range.clone(),
            SubjectKind::Few(_) | SubjectKind::Price { .. } => None,
        }
    }

    /// Whether only whole values make sense: it counts things.
    pub fn whole(&self) -> bool {
        matches!(&self.kind, SubjectKind::Number { unit, .. } if unit.dim().as_count().is_some())
    }

    /// It, set to a number in base units.
    pub fn pin(&self, value: &Exact) -> Pin {
        match self.kind {
            SubjectKind::Price { .. } => Pin::Price {
                resource: self.name.clone(),
                per_base: value.clone(),
            },
            SubjectKind::Number { .. } | SubjectKind::Few(_) => {
                self.pin_to(SchemaValue::Number(value.clone()))
            }
        }
    }

    /// The given, set to a value of its kind.
    pub fn pin_to(&self, value: SchemaValue) -> Pin {
        Pin::Given {
            name: self.name.clone(),
            value,
        }
    }

    /// A value as text.
    pub fn text(&self, program: &Program, value: &Exact) -> String {
        self.unit().map_or_else(
            || value.to_string(),
            |u| {
                format_quantity(
                    value,
                    u,
                    &program.nouns,
                    Style {
                        places: 6,
                        ..Style::default()
                    },
                )
            },
        )
    }
}

/// The given of this name, or the price of a resource where it reads `price of NAME`.
pub fn find(program: &Program, name: &str) -> Option<Subject> {
    let base = program.versions.first()?;
    if let Some(resource) = name.strip_prefix("price of ") {
        let def = base.resources.iter().find(|r| r.name == resource.trim())?;
        let dim = Dim::base(Base::Money).div(def.unit.dim())?;
        let currency = program.currency.as_deref();
        let text = format!(
            "{} per {}",
            currency.unwrap_or("USD"),
            def.unit.text(&program.nouns)
        );
        let unit = crate::units::parse_unit(&text, &program.nouns, currency)
            .unwrap_or_else(|_| default_unit(&dim, &program.nouns, currency));
        return Some(Subject {
            name: def.name.clone(),
            kind: SubjectKind::Price { unit },
        });
    }
    let value = base.values.iter().find(|v| v.name == name)?;
    let ValueKind::Given { range, .. } = &value.kind else {
        return None;
    };
    let node = program.node(value.node);
    let kind = match &node.ty {
        Ty::Number(_) => SubjectKind::Number {
            value: program.constant(value.node)?.clone(),
            range: range.clone(),
            unit: value.unit.clone().unwrap_or_else(UnitExpr::none),
        },
        Ty::Truth => SubjectKind::Few(
            [("no", false), ("yes", true)]
                .map(|(word, truth)| (word.to_owned(), SchemaValue::YesNo(truth)))
                .to_vec(),
        ),
        Ty::Choice(choice) => {
            let labels = program.choices.get(*choice).map_or(&[][..], |c| &c.labels);
            SubjectKind::Few(
                (0u16..)
                    .zip(labels)
                    .map(|(at, label)| (label.clone(), SchemaValue::Choice(at)))
                    .collect(),
            )
        }
        Ty::Text | Ty::Point(_) => return None,
    };
    Some(Subject {
        name: value.name.clone(),
        kind,
    })
}

/// Values from `low` to `high`, evenly spaced in `steps` steps; whole ones only where only those make sense. Ends included.
pub(super) fn spaced(low: &Exact, high: &Exact, steps: u32, whole: bool) -> Vec<Exact> {
    let steps = steps.max(1);
    let each = high
        .sub(low)
        .and_then(|width| width.div(&Exact::int(i64::from(steps))))
        .unwrap_or_default();
    let mut out: Vec<Exact> = Vec::new();
    for at in 0..=steps {
        let exact = each
            .mul(&Exact::int(i64::from(at)))
            .and_then(|d| low.add(&d))
            .unwrap_or_else(|_| high.clone());
        let value = if whole {
            exact
                .round_to(&Exact::ONE, crate::number::Rounding::HalfUp)
                .unwrap_or(exact)
        } else {
            exact
        };
        if out.last() != Some(&value) {
            out.push(value);
        }
    }
    out
}
