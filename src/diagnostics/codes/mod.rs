//! The codes of messages. The page of each is a text of its own beside this file: its title, a blank line, and why it is refused
//! and how to mend it. `ovolo code` prints it.
//!
//! ```
//! let entry = ovolo::diagnostics::codes::find("ov-102").expect("a code");
//! assert!(!entry.title().is_empty() && !entry.page().is_empty());
//! ```

/// One code with its explanation.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// `OV-301`
    pub code: &'static str,
    text: &'static str,
}

impl Entry {
    /// A few words.
    pub fn title(&self) -> &'static str {
        self.text.lines().next().unwrap_or_default()
    }

    /// Why it is refused and how to mend it, in plain words; may hold a short example.
    pub fn page(&self) -> &'static str {
        let rest = self.text.split_once("\n\n").map(|(_, page)| page);
        rest.unwrap_or_default().trim_end()
    }
}

macro_rules! entries {
    ($($digits:literal),* $(,)?) => {
        &[$(Entry {
            code: concat!("OV-", $digits),
            text: include_str!(concat!("OV-", $digits, ".txt")),
        }),*]
    };
}

/// Every code, in order.
pub const ENTRIES: &[Entry] = entries![
    // 0: files and commands.
    "001", "002", "003", "010", "011", "012", "013", "014", "015", "016", "017", "018", "019",
    "020", "021", "022", "023", "024", "026", "027", "028", "029", "031", "032", "070", "080",
    "081", "082", "083", "085", "086", "087", "088", "089", "095", "096", "097",
    "098", // 1: writing.
    "101", "102", "103", "104", "105", "106", "107", "108", "109", "110", "111", "112", "113",
    "114", "115", "120", "121", "122", "123", "124", "125", "126", "127", "128", "129", "131",
    "132", "133", "134", "135", "136", "137", "160", "161", "165", "170",
    // 2: names and structure.
    "201", "202", "203", "204", "205", "206", "207", "208", "209", "210", "211", "212", "213",
    "214", "215", "216", "217", "218", "219", "220", "221", "222", "223", "224", "225", "240",
    "241", "242", "243", "244", "245", "246", "250", "251", "252", "260", "261", "262", "263",
    "264", "265", "266", "267", "268", "284", "285", "286", "287", // 3: units.
    "301", "302", "303", "304", "305", "306", "307", "308", "309", "310", "311", "312", "313",
    "314", "315", "316", "317", "318", "319", "360", "361", "362", "363", "365",
    // 4: missing values, choices, decisions and tables.
    "401", "402", "403", "404", "405", "406", "407", "408", "409", "410", "411", "412", "413",
    "414", "415", "416", "417", "418", "419", "420", "421", "440", "441", "442", "443", "444",
    "445", "448", "450", "451", "460", "461", // 5: grain.
    "501", "502", "503", "504", "505", "506", "507", "508", "509", "515", "516", "517", "525",
    // 6: layers and trials.
    "601", "602", "603", "604", "605", "606", "607", "608", "609", "610", "611", "620", "621",
    "622", "630", "631", "632", "633", "634", "640", "641", "642", "643", "644", "645", "646",
    "647", "648", "649", "650", "651", "652", "653", "654", "655", "656", "657", "659", "660",
    "665", "670", "671", "672", "673", "674", "675", "676", "677", "678", "680", // 7: survey.
    "700", "701", "702", "703", "704", "705", "706", "707", "708", "709", "710", "711", "712",
    "713", "714", "715", "716", "717", "718", "719", "720", "721", "722", "723", "724", "725",
    "726", "728", "729", "730", "732", "733", "734", "735", "736", "737", "740", "741", "742",
    "743", "744", "745", "760", "761", "770", // 8: prices and money.
    "800", "801", "802", "803", "804", "805", "806", "807", "808", "809", "810", "811", "820",
    "821", "822", "823", "824", "825", "826", "827", "828", "835", "836", "837", "840", "841",
    "842", "843", "847", "848", "850", "851", "852", "855", "856", "857", "858", "860", "861",
    "862", "863", "864", "870", "890", "891", // 9: running.
    "901", "902", "903", "904", "905", "906", "907", "908", "909", "910", "912", "913", "920",
    "921", "922", "923", "940", "941", "950", "951", "952", "953", "954", "955", "956", "957",
    "958", "959", "960", "974", "975",
];

/// The entry of a code, written with or without `OV-`, in any case.
pub fn find(code: &str) -> Option<&'static Entry> {
    let digits = code
        .trim()
        .trim_start_matches(|c: char| !c.is_ascii_digit());
    ENTRIES
        .iter()
        .find(|e| e.code.ends_with(digits) && digits.len() == 3)
}

#[cfg(test)]
mod tests {
    use super::{ENTRIES, find};

    #[test]
    fn codes_are_unique_ordered_and_found() {
        let list: Vec<_> = ENTRIES.iter().map(|e| e.code).collect();
        assert!(list.windows(2).all(|w| w[0] < w[1]), "{list:?}");
        for entry in ENTRIES {
            assert_eq!(
                find(&entry.code.to_lowercase()).map(|e| e.code),
                Some(entry.code)
            );
            assert!(
                entry.page().len() > 40 && !entry.title().is_empty(),
                "{}",
                entry.code
            );
        }
    }
}
