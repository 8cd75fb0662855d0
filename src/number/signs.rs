//! Fractions of one character and the marks of feet and inches: one table for sheets and for cells.

/// Fractions of one character, and the same written out.
pub const FRACTIONS: [(char, &str); 18] = [
    ('¼', "1/4"),
    ('½', "1/2"),
    ('¾', "3/4"),
    ('⅐', "1/7"),
    ('⅑', "1/9"),
    ('⅒', "1/10"),
    ('⅓', "1/3"),
    ('⅔', "2/3"),
    ('⅕', "1/5"),
    ('⅖', "2/5"),
    ('⅗', "3/5"),
    ('⅘', "4/5"),
    ('⅙', "1/6"),
    ('⅚', "5/6"),
    ('⅛', "1/8"),
    ('⅜', "3/8"),
    ('⅝', "5/8"),
    ('⅞', "7/8"),
];

/// What stands for feet: the apostrophe, primes, and what a word processor makes of them. Two in a row stand for inches.
pub const FOOT_MARKS: [char; 6] = ['\'', '′', '’', '‘', 'ʹ', '´'];

/// What stands for inches.
pub const INCH_MARKS: [char; 5] = ['"', '″', '”', '“', 'ʺ'];

/// A fraction of one character, written out.
pub fn fraction_of(c: char) -> Option<&'static str> {
    let found = FRACTIONS.iter().find(|(glyph, _)| *glyph == c);
    found.map(|(_, written)| *written)
}
