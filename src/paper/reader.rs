//! Readers of papers, and what each of them may see.

/// Whom a paper is for. What one of them may see is said here and nowhere else.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reader {
    /// Owner or agency: the bid.
    Owner,
    /// Reviewing authority: the treatment schedule.
    Review,
    /// Anyone on the building: the window schedule.
    Schedule,
    /// The shop.
    Shop,
    /// A supplier.
    Order,
    /// The crew at the wall.
    Crew,
    /// Whoever finds a tagged sash.
    Tag,
    /// The archive.
    Archive,
    /// The office itself: sees everything.
    Office,
}

/// What a value is, for the question who may see it. It follows from what the value is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// Facts of the building, sizes, counts, quantities, decisions and their reasons.
    Open,
    /// An amount of money with every charge in it, made by pricing.
    AllIn,
    /// A person's time.
    Hours,
    /// Costs, prices, rates, paces, givens by themselves, and what a sheet marks `private`.
    Private,
}

impl Reader {
    /// Every reader.
    pub const ALL: [Reader; 9] = [
        Reader::Owner,
        Reader::Review,
        Reader::Schedule,
        Reader::Shop,
        Reader::Order,
        Reader::Crew,
        Reader::Tag,
        Reader::Archive,
        Reader::Office,
    ];

    /// Its word in a sheet.
    pub fn word(self) -> &'static str {
        match self {
            Reader::Owner => "owner",
            Reader::Review => "review",
            Reader::Schedule => "schedule",
            Reader::Shop => "shop",
            Reader::Order => "order",
            Reader::Crew => "crew",
            Reader::Tag => "tag",
            Reader::Archive => "archive",
            Reader::Office => "office",
        }
    }

    /// The reader a word of a sheet names.
    pub fn named(word: &str) -> Option<Reader> {
        Reader::ALL.into_iter().find(|r| r.word() == word)
    }

    /// Whom the paper is for, as printed.
    pub fn whom(self) -> &'static str {
        match self {
            Reader::Owner => "the owner",
            Reader::Review => "the reviewing authority",
            Reader::Schedule => "everyone on the building",
            Reader::Shop => "the shop",
            Reader::Order => "the supplier",
            Reader::Crew => "the crew",
            Reader::Tag => "whoever holds the sash",
            Reader::Archive => "the archive",
            Reader::Office => "the office only",
        }
    }

    /// Whether it may see a value of a class.
    pub fn may_see(self, class: Class) -> bool {
        match class {
            Class::Open => true,
            Class::AllIn => matches!(self, Reader::Owner | Reader::Office),
            Class::Hours => matches!(self, Reader::Crew | Reader::Office),
            Class::Private => self == Reader::Office,
        }
    }
}

impl Class {
    /// What such a value is, in a message.
    pub fn text(self) -> &'static str {
        match self {
            Class::Open => "open to every reader",
            Class::AllIn => "an all-in price",
            Class::Hours => "hours of work",
            Class::Private => "private to the office",
        }
    }

    /// The class of something made of both: no reader sees it who may not see each.
    #[must_use]
    pub fn with(self, other: Class) -> Class {
        match (self, other) {
            (Class::Open, c) | (c, Class::Open) => c,
            (a, b) if a == b => a,
            _ => Class::Private,
        }
    }
}
