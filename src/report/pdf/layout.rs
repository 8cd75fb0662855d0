//! A paper to pages: blocks in order, each on pages of a format that it fits.

use super::columns::{self, Types};
use super::faces::Lacking;
use super::flow::{BODY, Flow, HEADING, LARGE, LARGE_STRONG, STRONG, TITLE};
use super::furniture;
use super::numbers::paged;
use super::pages::{Format, Laid, MM, Part, Piece, Role, Um, What};
use super::rows::Rows;
use super::wrap::Type;
use crate::drawing::Drawing;
use crate::ids::count;
use crate::number::{Exact, Rounding};
use crate::paper::{Block, Paper, Photograph, Picture, Reader, Sign, State, Table};
use std::ops::Range;

/// Height of a line to sign on, with its words.
const SIGN: Um = 17 * MM;

/// A paper with more pages says on the first what is where.
const SHORT: usize = 4;
/// More titles are found through the bookmarks alone.
const MOST_TITLES: usize = 60;

/// Lays a paper out.
pub fn lay_out(paper: &Paper) -> Laid {
    let flow = flowed(paper, &[]);
    let titles = titles(&flow);
    let flow = match flow.pages.len() > SHORT && (2..=MOST_TITLES).contains(&titles.len()) {
        true => flowed(paper, &titles),
        false => flow,
    };
    Laid {
        pages: flow.pages,
        parts: flow.parts,
        lacking: flow.lacking,
        told: flow.told,
    }
}

/// Headings and titles of tables, each with the block it is of; a heading over a table of the same name counts once.
fn titles(flow: &Flow) -> Vec<(usize, String)> {
    let mut out: Vec<(usize, String)> = Vec::new();
    for (at, part) in flow.parts.iter().enumerate() {
        if let Part::Heading(title) | Part::Table { title, .. } = part
            && !title.is_empty()
            && out.last().is_none_or(|(_, last)| last != title)
            && let Some(block) = flow.block_of(at)
        {
            out.push((block, title.clone()));
        }
    }
    out
}

/// The titles of what follows, each with the page of its block.
fn contents(flow: &mut Flow, titles: &[(usize, String)]) {
    let format = flow.format();
    let part = flow.part(Part::Text);
    flow.paragraph(format, "Contents", STRONG, part, 0);
    for (block, title) in titles {
        flow.need(format, BODY.pitch());
        let part = flow.part(Part::Text);
        let role = Role::Of {
            part,
            piece: Piece::Whole,
        };
        // The signs of a title are counted where it is.
        let title = Lacking::default().printable(title).into_owned();
        let y = flow.y;
        // Before its title, so that it is read first.
        flow.await_page(*block, BODY, (NUMBER - 3 * MM, y), role);
        let line = super::furniture::fitted(&title, BODY, flow.width() - NUMBER);
        flow.line(&line, BODY, (NUMBER, y), role);
        flow.y += BODY.pitch();
    }
    flow.y += 3 * MM;
}

/// Width of the numbers of pages before their titles.
const NUMBER: Um = 12 * MM;

fn flowed(paper: &Paper, titles: &[(usize, String)]) -> Flow {
    let formats = formats(paper);
    let mut flow = Flow::new(formats.first().copied().unwrap_or(Format::Upright));
    opening(&mut flow, paper);
    if !titles.is_empty() {
        contents(&mut flow, titles);
    }
    let mut at = 0;
    for stretch in paper.blocks.split_inclusive(|b| *b == Block::PageBreak) {
        fitted(&mut flow, paper, &formats, at..at + stretch.len());
        at += stretch.len();
    }
    if let Some(sentence) = flow.lacking.sentence() {
        let format = flow.format();
        let part = flow.part(Part::Text);
        flow.gap(6 * MM);
        flow.paragraph(format, &sentence, BODY, part, 0);
    }
    flow.number();
    furniture::add(&mut flow, paper);
    flow
}

/// Most pages of a stretch for which a closer setting is tried.
const FEW: usize = 3;

/// Lays out what is between two page breaks. Where closer rows and smaller gaps save a page, all of it is set so.
fn fitted(flow: &mut Flow, paper: &Paper, formats: &[Format], blocks: Range<usize>) {
    let place = flow.here();
    let fresh = flow.breaks && !flow.is_fresh();
    let from = flow.pages.len();
    stretch(flow, paper, formats, blocks.clone());
    let usual = flow.pages.len() - from;
    if !fresh || !(2..=FEW).contains(&usual) {
        return;
    }
    let loose = flow.take_back(&place);
    flow.tight = true;
    stretch(flow, paper, formats, blocks);
    flow.tight = false;
    if flow.pages.len() - from >= usual {
        flow.take_back(&place);
        flow.put_back(loose);
    }
}

fn stretch(flow: &mut Flow, paper: &Paper, formats: &[Format], blocks: Range<usize>) {
    for at in blocks {
        let format = formats.get(at).copied().unwrap_or(Format::Upright);
        if let Some(block) = paper.blocks.get(at) {
            self::block(flow, paper, formats, at, block, format);
        }
    }
}

/// The types of a paper's tables: larger for those who read at the wall.
fn types(paper: &Paper) -> Types {
    match paper.reader {
        Reader::Crew => Types {
            body: LARGE,
            head: LARGE_STRONG,
        },
        Reader::Owner
        | Reader::Review
        | Reader::Schedule
        | Reader::Shop
        | Reader::Order
        | Reader::Tag
        | Reader::Archive
        | Reader::Office => Types {
            body: BODY,
            head: STRONG,
        },
    }
}

/// How the page of each block lies. Between two page breaks all lie as the widest table asks; a drawing that needs another page has
/// it alone.
fn formats(paper: &Paper) -> Vec<Format> {
    let types = types(paper);
    let mut out = Vec::with_capacity(paper.blocks.len());
    for section in paper.blocks.split_inclusive(|b| *b == Block::PageBreak) {
        let turned = section.iter().any(|block| match block {
            Block::Table(table) => columns::format(&paged(table), types) == Format::Turned,
            Block::Heading(_)
            | Block::Text(_)
            | Block::Drawing(_)
            | Block::Photograph(_)
            | Block::Signs(_)
            | Block::PageBreak => false,
        });
        let usual = if turned {
            Format::Turned
        } else {
            Format::Upright
        };
        let of = |block: &Block| match block {
            Block::Drawing(picture) => format_of_drawing(&picture.drawing, usual).unwrap_or(usual),
            Block::Heading(_)
            | Block::Text(_)
            | Block::Table(_)
            | Block::Photograph(_)
            | Block::Signs(_)
            | Block::PageBreak => usual,
        };
        out.extend(section.iter().map(of));
    }
    // Headings stay with what they head.
    for at in (0..out.len().saturating_sub(1)).rev() {
        if matches!(paper.blocks.get(at), Some(Block::Heading(_)))
            && let Some(next) = out.get(at + 1).copied()
            && let Some(own) = out.get_mut(at)
        {
            *own = next;
        }
    }
    out
}

/// Height that a table takes beside its rows, and one of two lines.
const TABLE: Um = 18 * MM;
const ROW: Um = 8 * MM;
/// Height kept below a drawing for its caption.
const CAPTION: Um = 12 * MM;

/// The first format that a drawing fits, beginning with that of what stands around it.
fn format_of_drawing(drawing: &Drawing, usual: Format) -> Option<Format> {
    let (width, height) = size(drawing);
    let fits = |format: &Format| {
        let (w, h) = format.net();
        width <= w && height + CAPTION <= h - super::flow::HEAD - super::flow::FOOT
    };
    [usual, Format::Upright, Format::Turned, Format::Double]
        .into_iter()
        .find(fits)
}

fn size(drawing: &Drawing) -> (Um, Um) {
    (micrometers(&drawing.width), micrometers(&drawing.height))
}

/// A length in millimeters, rounded once to 1/100 mm.
pub(super) fn micrometers(mm: &Exact) -> Um {
    let step = Exact::ratio(1, 100).unwrap_or(Exact::ONE);
    let rounded = mm.round_to(&step, Rounding::HalfUp).ok();
    let whole = rounded.and_then(|n| n.mul(&Exact::int(MM)).ok());
    // What is out of all range is out of range of every page.
    whole.and_then(|n| n.to_i64()).unwrap_or(Um::MAX / 4)
}

/// Title, job, and what is doubtful, on the first page.
fn opening(flow: &mut Flow, paper: &Paper) {
    let format = flow.format();
    let body = BODY;
    flow.y += 3 * MM;
    let part = flow.part(Part::Title(paper.title.clone()));
    flow.paragraph(format, &paper.title, TITLE, part, 0);
    flow.y += MM;
    let part = flow.part(Part::Text);
    let line = furniture::particulars(paper);
    flow.paragraph(format, &line, body, part, 0);
    if paper.state == State::Draft {
        flow.y += 3 * MM;
        let part = flow.part(Part::Text);
        let words = match paper.head.doubts.is_empty() {
            true => format!("{}.", paper.state_text()),
            false => format!("{}:", paper.state_text()),
        };
        flow.paragraph(format, &words, STRONG, part, 0);
    } else if !paper.head.doubts.is_empty() {
        flow.y += 3 * MM;
    }
    for doubt in &paper.head.doubts {
        flow.y += MM;
        let top = flow.y;
        let page = flow.pages.len();
        let part = flow.part(Part::Text);
        flow.paragraph(format, doubt, body, part, 4 * MM);
        if flow.pages.len() == page {
            let what = What::Rule {
                right: 0,
                down: flow.y - top,
                weight: 700,
            };
            flow.place(MM, top, what, Role::Furniture);
        }
    }
    flow.y += 3 * MM;
}

fn block(
    flow: &mut Flow,
    paper: &Paper,
    formats: &[Format],
    at: usize,
    block: &Block,
    format: Format,
) {
    let body = BODY;
    flow.begins.push((at, flow.parts.len()));
    match block {
        Block::Heading(text) => {
            let own = flow.height(text, HEADING, format.net().0);
            let next = least_after(flow, paper, formats, at + 1);
            flow.gap(6 * MM);
            let whole = flow.whole();
            flow.need(format, (own + next).min(whole));
            let part = flow.part(Part::Heading(text.clone()));
            flow.paragraph(format, text, HEADING, part, 0);
            flow.y += MM;
        }
        Block::Text(text) => {
            flow.gap(MM);
            let signed = signed_after(flow, paper, at, format);
            if signed > 0 {
                let own = flow.height(text, body, format.net().0);
                let whole = flow.whole();
                flow.need(format, (own + signed).min(whole));
            }
            let part = flow.part(Part::Text);
            flow.paragraph(format, text, body, part, 0);
            flow.y += MM / 2;
        }
        Block::Table(table) => {
            // A drawing stays with the rows that it shows, where both fit on a page.
            if let Some(Block::Drawing(picture)) = paper.blocks.get(at + 1) {
                let rows = TABLE + count(table.rows.len()) * ROW;
                let both = rows + size(&picture.drawing).1 + CAPTION;
                if both <= flow.whole() {
                    flow.need(format, both);
                }
            }
            let signed = signed_after(flow, paper, at, format);
            self::table(flow, &paged(table), types(paper), format, signed);
        }
        Block::Drawing(picture) => drawing(flow, picture, at, format),
        Block::Photograph(photo) => photograph(flow, photo, at, format),
        Block::Signs(signs) => self::signs(flow, signs, format, body),
        Block::PageBreak => flow.breaks = true,
    }
}

/// Height of the texts, sign lines and room to write that end what stands around a block: what is signed is above them, so a page
/// never holds sign lines alone. None where it is signed elsewhere, or where it is too high to be moved.
fn signed_after(flow: &mut Flow, paper: &Paper, at: usize, format: Format) -> Um {
    let mut height = 0;
    let mut signed = false;
    for block in paper.blocks.iter().skip(at + 1) {
        match block {
            Block::Text(text) => {
                height += flow.height(text, BODY, format.net().0) + flow.close(MM) + MM / 2
            }
            Block::Signs(signs) => {
                signed = true;
                height += 4 * MM + count(signs.len().div_ceil(2)) * SIGN;
            }
            // What is filled in by hand.
            Block::Table(table) if table.name.is_empty() => {
                signed = true;
                height +=
                    flow.close(3 * MM) + count(table.rows.len()) * super::rows::hand(flow.tight);
            }
            Block::PageBreak => break,
            Block::Heading(_) | Block::Table(_) | Block::Drawing(_) | Block::Photograph(_) => {
                return 0;
            }
        }
    }
    match signed && height < flow.whole() / 2 {
        true => height,
        false => 0,
    }
}

/// Height of what must be below a heading on its page.
fn least_after(flow: &mut Flow, paper: &Paper, formats: &[Format], at: usize) -> Um {
    let format = formats.get(at).copied().unwrap_or(Format::Upright);
    match paper.blocks.get(at) {
        Some(Block::Heading(text)) => {
            let own = flow.height(text, HEADING, format.net().0) + 7 * MM;
            own + least_after(flow, paper, formats, at + 1)
        }
        Some(Block::Text(_)) => 3 * MM + 3 * BODY.pitch(),
        // Title, headings and two rows, which the table itself measures to the point.
        Some(Block::Table(_)) => 45 * MM,
        Some(Block::Drawing(picture)) => size(&picture.drawing).1.min(400 * MM) + CAPTION + 5 * MM,
        Some(Block::Photograph(photo)) => photo_size(photo).1 + CAPTION,
        Some(Block::Signs(_)) => SIGN,
        Some(Block::PageBreak) | None => 0,
    }
}

fn table(flow: &mut Flow, table: &Table, types: Types, format: Format, signed: Um) {
    if table.says_only() {
        untabled(flow, table, format);
        return;
    }
    let bands = columns::bands(table, types, format.net().0);
    let many = bands.len();
    let mut after = if signed > 0 {
        signed + flow.close(2 * MM)
    } else {
        0
    };
    for note in &table.notes {
        after += flow.height(note, BODY, format.net().0) + flow.close(MM);
    }
    for (at, band) in bands.iter().enumerate() {
        let title = match many {
            1 => table.title.clone(),
            _ => format!("{} (part {} of {many}, by columns)", table.title, at + 1),
        };
        let after = if at + 1 == many { after } else { 0 };
        Rows::new(flow, table, band, types).lay(flow, format, &title, after);
    }
    flow.notes(format, &table.notes);
}

/// The title of a table without rows, and below it why it has none.
fn untabled(flow: &mut Flow, table: &Table, format: Format) {
    let of = flow.title();
    flow.gap(3 * MM);
    let own = flow.height(&table.title, of, format.net().0);
    flow.need(format, own + MM + 2 * BODY.pitch());
    let part = flow.part(Part::Text);
    flow.paragraph(format, &table.title, of, part, 0);
    flow.notes(format, &table.notes);
}

fn drawing(flow: &mut Flow, picture: &Picture, at: usize, format: Format) {
    let (width, height) = size(&picture.drawing);
    if format_of_drawing(&picture.drawing, format).is_none() {
        let mm = |n: Um| n / MM;
        let told = format!(
            "The drawing \"{}\" is {} mm wide and {} mm high, larger than any page, and is left out; a smaller scale fits it.",
            picture.caption,
            mm(width),
            mm(height)
        );
        let part = flow.part(Part::Text);
        flow.gap(3 * MM);
        flow.paragraph(format, &told, STRONG, part, 0);
        flow.told.push(told);
        return;
    }
    let caption = flow.height(&picture.caption, BODY, format.net().0);
    flow.gap(MM);
    flow.need(format, height + 2 * MM + caption.min(CAPTION - 2 * MM));
    let alternative = match picture.alternative.is_empty() {
        true => picture.caption.clone(),
        false => picture.alternative.clone(),
    };
    let part = flow.part(Part::Figure(alternative));
    let what = What::Drawing {
        block: at,
        width,
        height,
    };
    let y = flow.y;
    let role = Role::Of {
        part,
        piece: Piece::Whole,
    };
    flow.place(0, y, what, role);
    flow.y += height;
    flow.gap(3 * MM / 2);
    if !picture.caption.is_empty() {
        let part = flow.part(Part::Text);
        flow.paragraph(format, &picture.caption, BODY, part, 0);
    }
    flow.y += MM / 2;
}

/// The most that a photograph is wide and high.
const PHOTO: Um = 85 * MM;

/// Size of a photograph on paper, as it is shaped.
fn photo_size(photo: &Photograph) -> (Um, Um) {
    let (width, height) = (Um::from(photo.image.size.0), Um::from(photo.image.size.1));
    let longer = width.max(height).max(1);
    (
        (PHOTO * width / longer).max(MM),
        (PHOTO * height / longer).max(MM),
    )
}

fn photograph(flow: &mut Flow, photo: &Photograph, at: usize, format: Format) {
    let (width, height) = photo_size(photo);
    flow.gap(4 * MM);
    flow.need(format, height + CAPTION);
    let part = flow.part(Part::Figure(photo.caption.clone()));
    let what = What::Photograph {
        block: at,
        width,
        height,
    };
    let role = Role::Of {
        part,
        piece: Piece::Whole,
    };
    let y = flow.y;
    flow.place(0, y, what, role);
    flow.y += height + 2 * MM;
    let part = flow.part(Part::Text);
    flow.paragraph(format, &photo.caption, BODY, part, 0);
    flow.y += MM;
}

/// Lines to sign on, two side by side, kept together.
fn signs(flow: &mut Flow, signs: &[Sign], format: Format, of: Type) {
    let rows = count(signs.len().div_ceil(2));
    let whole = flow.whole();
    flow.gap(4 * MM);
    flow.need(format, (rows * SIGN).min(whole));
    let half = (format.net().0 - 10 * MM) / 2;
    for pair in signs.chunks(2) {
        flow.need(format, SIGN);
        for (at, sign) in pair.iter().enumerate() {
            let x = count(at) * (half + 10 * MM);
            let y = flow.y + 10 * MM;
            flow.rule(x, half, y, 350);
            let part = flow.part(Part::Text);
            let text = format!("{}, date", sign.who);
            let text = flow.lacking.printable(&text).into_owned();
            let role = Role::Of {
                part,
                piece: Piece::Whole,
            };
            let line = super::wrap::lines(&text, of, half);
            for (n, words) in line.iter().take(2).enumerate() {
                flow.line(words, of, (x, y + count(n) * of.pitch()), role);
            }
        }
        flow.y += SIGN;
    }
}
