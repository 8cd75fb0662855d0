//! Laid-out pages as a PDF file.

use super::PdfError;
use super::faces::{Face, UNITS, em};
use super::pages::{Laid, MM, Page, Part, Piece, Placed, Role, Sheet, Um, What};
use super::shapes;
use crate::defuse::line;
use crate::paper::{Block, ImageKind, Paper};
use krilla::color::luma;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder, PdfVersion};
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::metadata::{DateTime, Metadata, PageLayout, TextDirection};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    ArtifactType, ContentTag, Identifier, Node, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};
use std::collections::BTreeMap;
use std::num::{NonZeroU16, NonZeroU32};
use std::sync::LazyLock;

/// The language of every paper.
const LANGUAGE: &str = "en-US";

/// Micrometers as points of 1/72 in.
#[expect(
    clippy::as_conversions,
    reason = "the points of a page come after all layout, and are floats in the file"
)]
pub(super) fn points(um: Um) -> f32 {
    (um as f64 * 72.0 / 25_400.0) as f32
}

static FONTS: LazyLock<[Option<Font>; 2]> = LazyLock::new(|| {
    [Face::Regular, Face::Bold].map(|face| Font::new(face.data().to_vec().into(), 0))
});

/// Writes pages.
/// Errors: [`PdfError`] when the writer of files refuses them.
pub(super) fn write(paper: &Paper, laid: &Laid, sheet: Sheet) -> Result<Vec<u8>, PdfError> {
    let refused = |why: String| PdfError(format!("the PDF was refused: {why}"));
    let day = paper.head.date.as_deref().and_then(day_of);
    let rules = ConfigurationBuilder::new()
        .with_version(PdfVersion::Pdf17)
        .with_accessibility_validator(Accessibility::UA1);
    // A file for the archive says of which day it is; a job without one is a draft.
    let rules = match day {
        Some(_) => rules.with_archival_validator(Archival::A2_A),
        None => rules,
    };
    let configuration = rules.finish().map_err(|e| refused(format!("{e:?}")))?;
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        ..SerializeSettings::default()
    });
    let mut ids: Ids = BTreeMap::new();
    for page in &laid.pages {
        let (width, height) = page.format.page(sheet);
        let settings = PageSettings::from_wh(points(width), points(height))
            .ok_or_else(|| refused("a page without a size".to_owned()))?;
        let mut on = document.start_page_with(settings);
        let mut surface = on.surface();
        draw_page(
            &mut surface,
            paper,
            page,
            page.format.corner(sheet),
            &mut ids,
        );
        surface.finish();
        on.finish();
    }
    let title = match paper.head.job.is_empty() {
        true => paper.title.clone(),
        false => format!("{}: {}", paper.head.job, paper.title),
    };
    let metadata = Metadata::new()
        .title(line(&title))
        .language(LANGUAGE.to_owned())
        .producer(line(&paper.head.program))
        .text_direction(TextDirection::LeftToRight)
        .page_layout(PageLayout::SinglePage);
    document.set_metadata(match day {
        Some(day) => metadata.creation_date(day),
        None => metadata,
    });
    document.set_outline(outline(laid, sheet));
    document.set_tag_tree(tags(laid, &mut ids));
    document.finish().map_err(|e| refused(format!("{e:?}")))
}

/// The day of a paper, 2026-03-21: that of its job, for no clock is read.
fn day_of(date: &str) -> Option<DateTime> {
    let mut parts = date.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let year = DateTime::new(year.parse().ok()?);
    Some(year.month(month.parse().ok()?).day(day.parse().ok()?))
}

/// What was drawn for each piece of each part.
type Ids = BTreeMap<(usize, Piece), Vec<Identifier>>;

/// A width in units of the face as a part of its size.
#[expect(
    clippy::as_conversions,
    reason = "widths of signs are far below the 2^24 that a float holds"
)]
fn em_of(units: i64) -> f32 {
    units as f32 / UNITS as f32
}

/// Draws on the surface of a page.
pub(super) struct Pen<'a, 's> {
    pub(super) surface: &'a mut Surface<'s>,
}

impl Pen<'_, '_> {
    /// A path as a line, or dashed.
    pub(super) fn stroke(&mut self, path: &Path, weight: Um, dashed: bool) {
        self.surface.set_fill(None);
        self.surface.set_stroke(Some(Stroke {
            paint: luma::Color::black().into(),
            width: points(weight),
            dash: dashed.then(|| StrokeDash {
                array: vec![points(1500), points(MM)],
                offset: 0.0,
            }),
            ..Stroke::default()
        }));
        self.surface.draw_path(path);
        self.surface.set_stroke(None);
    }

    /// The inside of a path in a gray between 0, black, and 255.
    pub(super) fn fill(&mut self, path: &Path, gray: u8) {
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(Fill {
            paint: luma::Color::new(gray).into(),
            opacity: NormalizedF32::ONE,
            ..Fill::default()
        }));
        self.surface.draw_path(path);
    }

    /// A line of text that begins at a place of the page.
    pub(super) fn text(&mut self, text: &str, face: Face, capital: Um, (x, y): (Um, Um)) {
        let slot = match face {
            Face::Regular => &FONTS[0],
            Face::Bold => &FONTS[1],
        };
        let Some(font) = slot else { return };
        let glyphs: Vec<KrillaGlyph> = text
            .char_indices()
            .filter_map(|(at, c)| {
                let glyph = face.glyph(c)?;
                let advance = em_of(glyph.advance);
                let range = at..at + c.len_utf8();
                let id = GlyphId::new(glyph.id);
                Some(KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, range, None))
            })
            .collect();
        if glyphs.is_empty() {
            return;
        }
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(Fill {
            paint: luma::Color::black().into(),
            opacity: NormalizedF32::ONE,
            ..Fill::default()
        }));
        let start = Point::from_xy(points(x), points(y));
        let size = points(em(capital));
        self.surface
            .draw_glyphs(start, &glyphs, font.clone(), text, size, false);
    }
}

fn draw_page(
    surface: &mut Surface<'_>,
    paper: &Paper,
    page: &Page,
    corner: (Um, Um),
    ids: &mut Ids,
) {
    let mut rest = page.placed.as_slice();
    while let Some(first) = rest.first() {
        // What stands together and belongs together is tagged together.
        let same = rest.iter().take_while(|p| p.role == first.role).count();
        let (now, next) = rest.split_at(same.max(1));
        rest = next;
        match first.role {
            Role::Furniture => {
                surface.start_tagged(ContentTag::Artifact(krilla::tagging::Artifact::with_kind(
                    ArtifactType::Other,
                )));
            }
            Role::Of { part, piece } => {
                let id = surface.start_tagged(ContentTag::Other);
                ids.entry((part, piece)).or_default().push(id);
            }
        }
        let mut pen = Pen {
            surface: &mut *surface,
        };
        now.iter()
            .for_each(|placed| draw(&mut pen, paper, placed, corner));
        surface.end_tagged();
    }
}

fn draw(pen: &mut Pen<'_, '_>, paper: &Paper, placed: &Placed, corner: (Um, Um)) {
    let (x, y) = (placed.x + corner.0, placed.y + corner.1);
    match &placed.what {
        What::Text {
            text,
            face,
            capital,
            ..
        } => pen.text(text, *face, *capital, (x, y)),
        What::Rule {
            right,
            down,
            weight,
        } => {
            let mut path = PathBuilder::new();
            path.move_to(points(x), points(y));
            path.line_to(points(x + right), points(y + down));
            if let Some(path) = path.finish() {
                pen.stroke(&path, *weight, false);
            }
        }
        What::Frame {
            width,
            height,
            weight,
        } => {
            let rect = Rect::from_xywh(points(x), points(y), points(*width), points(*height));
            let mut path = PathBuilder::new();
            if let Some(rect) = rect {
                path.push_rect(rect);
            }
            if let Some(path) = path.finish() {
                pen.stroke(&path, *weight, false);
            }
        }
        What::Drawing { block, .. } => {
            if let Some(Block::Drawing(picture)) = paper.blocks.get(*block) {
                shapes::draw(pen, &picture.drawing, (x, y));
            }
        }
        What::Photograph {
            block,
            width,
            height,
        } => {
            if let Some(Block::Photograph(photo)) = paper.blocks.get(*block) {
                photograph(pen, &photo.image, (x, y), (*width, *height));
            }
        }
    }
}

/// A photograph; one that cannot be decoded leaves an empty frame, and its caption says which it was.
fn photograph(
    pen: &mut Pen<'_, '_>,
    image: &crate::paper::Image,
    (x, y): (Um, Um),
    (width, height): (Um, Um),
) {
    let data = image.bytes.to_vec().into();
    let decoded = match image.kind {
        ImageKind::Jpeg => krilla::image::Image::from_jpeg(data, false),
        ImageKind::Png => krilla::image::Image::from_png(data, false),
    };
    let size = Size::from_wh(points(width), points(height));
    if let (Ok(decoded), Some(size)) = (decoded, size) {
        let to = Transform::from_translate(points(x), points(y));
        pen.surface.push_transform(&to);
        pen.surface.draw_image(decoded, size);
        pen.surface.pop();
    }
    let rect = Rect::from_xywh(points(x), points(y), points(width), points(height));
    let mut path = PathBuilder::new();
    if let Some(rect) = rect {
        path.push_rect(rect);
    }
    if let Some(path) = path.finish() {
        pen.stroke(&path, 250, false);
    }
}

/// The headings, to go to from beside the pages.
fn outline(laid: &Laid, sheet: Sheet) -> Outline {
    let mut out = Outline::new();
    // Where each part begins: page, and how high.
    let mut begins: Vec<Option<(usize, Um)>> = vec![None; laid.parts.len()];
    for (at, page) in laid.pages.iter().enumerate() {
        for placed in &page.placed {
            if let Role::Of { part, .. } = placed.role
                && let Some(first) = begins.get_mut(part)
            {
                first.get_or_insert((at, placed.y));
            }
        }
    }
    let place = |part: usize| {
        let (at, y) = begins.get(part).copied().flatten()?;
        let corner = laid.pages.get(at)?.format.corner(sheet);
        let y = (y + corner.1 - 8 * MM).max(0);
        let to = Point::from_xy(points(corner.0), points(y));
        Some(XyzDestination::new(at, to))
    };
    for (at, part) in laid.parts.iter().enumerate() {
        if let Part::Title(text) | Part::Heading(text) | Part::Table { title: text, .. } = part
            && let Some(to) = place(at)
        {
            out.push_child(OutlineNode::new(line(text), to));
        }
    }
    out
}

/// What the pages hold, in the order of reading.
fn tags(laid: &Laid, ids: &mut Ids) -> TagTree {
    let mut tree = TagTree::new().with_lang(Some(LANGUAGE.to_owned()));
    for (at, part) in laid.parts.iter().enumerate() {
        let group: TagKind = match part {
            Part::Title(text) => Tag::Hn(NonZeroU16::MIN, Some(line(text))).into(),
            Part::Heading(text) => {
                let second = NonZeroU16::MIN.saturating_add(1);
                Tag::Hn(second, Some(line(text))).into()
            }
            Part::Text => Tag::P.into(),
            Part::Figure(words) => Tag::Figure(Some(line(words))).into(),
            Part::Table {
                columns, headed, ..
            } => {
                if let Some(table) = table(at, *columns, headed, ids) {
                    tree.push(table);
                }
                continue;
            }
        };
        if let Some(whole) = ids.remove(&(at, Piece::Whole)) {
            let leaves = whole.into_iter().map(Node::from).collect();
            tree.push(TagGroup::with_children(group, leaves));
        }
    }
    tree
}

fn filled(tag: impl Into<TagKind>, ids: Option<Vec<Identifier>>) -> TagGroup {
    let leaves = ids
        .unwrap_or_default()
        .into_iter()
        .map(Node::from)
        .collect();
    TagGroup::with_children(tag, leaves)
}

fn table(part: usize, columns: usize, headed: &[(usize, bool)], ids: &mut Ids) -> Option<TagGroup> {
    let mut table = TagGroup::new(Tag::Table);
    if let Some(title) = ids.remove(&(part, Piece::Caption)) {
        table.push(filled(Tag::Caption, Some(title)));
    }
    let mut heads = TagGroup::new(Tag::TR);
    for column in 0..columns {
        let own = ids.remove(&(part, Piece::Head(column)));
        heads.push(filled(Tag::TH(TableHeaderScope::Column), own));
    }
    table.push(TagGroup::with_children(Tag::THead, vec![heads.into()]));
    let mut rows: BTreeMap<usize, BTreeMap<usize, Vec<Identifier>>> = BTreeMap::new();
    let range = (part, Piece::Cell(0, 0))..=(part, Piece::Cell(usize::MAX, usize::MAX));
    let keys: Vec<(usize, Piece)> = ids.range(range).map(|(key, _)| *key).collect();
    for key in keys {
        if let (Piece::Cell(row, column), Some(own)) = (key.1, ids.remove(&key)) {
            rows.entry(row).or_default().insert(column, own);
        }
    }
    let headed: BTreeMap<usize, bool> = headed.iter().copied().collect();
    let mut body = TagGroup::new(Tag::TBody);
    for (row, mut cells) in rows {
        let mut tr = TagGroup::new(Tag::TR);
        let head = headed.get(&row);
        if head == Some(&true) {
            let over = u32::try_from(columns).ok().and_then(NonZeroU32::new);
            let tag = Tag::TH(TableHeaderScope::Row).with_col_span(over);
            tr.push(filled(tag, cells.remove(&0)));
        } else {
            for column in 0..columns {
                let own = cells.remove(&column);
                tr.push(match (column, head) {
                    (0, Some(_)) => filled(Tag::TH(TableHeaderScope::Row), own),
                    _ => filled(Tag::TD, own),
                });
            }
        }
        body.push(tr);
    }
    table.push(body);
    Some(table)
}
