//! Lookup tables by chance.

use super::chance::{Chance, a_number, number};
use super::maker::{CHOICE, SPAN, TEXTS};
use crate::diagnostics::Place;
use crate::number::Exact;
use crate::program::{KeyCell, KeyColumn, Lookup, Program, Ty, ValueColumn};

#[expect(clippy::too_many_lines, reason = "a list of tables, one of each kind")]
pub(super) fn lookups(chance: &mut Chance, program: &mut Program) {
    let band = |low: Option<i64>, high: Option<i64>| KeyCell::Band {
        low: low.map(|n| (Exact::int(n), true)),
        high: high.map(|n| (Exact::int(n), false)),
    };
    let name = |text: &str| KeyCell::Text(text.to_owned());
    let key = |ty: Ty, cells: Vec<KeyCell>| KeyColumn {
        name: "key".into(),
        ty,
        unit: None,
        cells,
    };
    let mut push = |keys: Vec<KeyColumn>, chance: &mut Chance| {
        let rows = keys[0].cells.len();
        let values = vec![
            ValueColumn {
                name: "n".into(),
                ty: number(),
                numbers: (0..rows).map(|_| a_number(chance)).collect(),
                texts: Vec::new(),
            },
            ValueColumn {
                name: "t".into(),
                ty: Ty::Text,
                numbers: Vec::new(),
                texts: (0..rows).map(|_| chance.pick(&TEXTS).to_owned()).collect(),
            },
        ];
        let places = vec![Place::Sheet(SPAN); rows];
        program
            .lookups
            .push(std::sync::Arc::new(Lookup {
                name: "table".into(),
                keys,
                values,
                rows,
                span: SPAN,
                places,
            }))
            .expect("room for a few");
    };
    push(
        vec![key(
            number(),
            vec![
                band(None, Some(0)),
                band(Some(0), Some(12)),
                band(Some(14), Some(144)),
                band(Some(144), None),
            ],
        )],
        chance,
    );
    push(
        vec![key(
            number(),
            [-6, 40, 3, 90]
                .map(|n| KeyCell::Number(Exact::int(n)))
                .to_vec(),
        )],
        chance,
    );
    push(
        vec![
            key(
                Ty::Choice(CHOICE),
                vec![name("single"), name("single"), name("hung"), KeyCell::Any],
            ),
            key(
                number(),
                vec![
                    band(None, Some(5)),
                    band(Some(5), None),
                    KeyCell::Any,
                    KeyCell::Number(Exact::int(3)),
                ],
            ),
        ],
        chance,
    );
    push(
        vec![
            key(
                Ty::Text,
                vec![name("west"), name("mill"), KeyCell::Any, name("")],
            ),
            key(
                Ty::Truth,
                vec![
                    KeyCell::Truth(true),
                    KeyCell::Any,
                    KeyCell::Truth(false),
                    KeyCell::Any,
                ],
            ),
        ],
        chance,
    );
}
