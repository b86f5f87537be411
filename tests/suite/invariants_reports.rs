//! Further checks of any bytes whatever: workbooks, the proposal of a profile, the page.

use keyassay::audit::{Content, Input, Plan, run};
use keyassay::bank::sample::sample;
use keyassay::bank::{Again, Format, Settings};
use keyassay::findings::Settings as JudgeSettings;
use keyassay::limits::Limits;
use keyassay::profile::guess::{Bank, READ, propose};
use keyassay::qti::Bytes;
use keyassay::qti::zip::ZipWriter;
use keyassay::report::html::{About, CardRenderer, HtmlReport};
use keyassay::structure::OctetRule;
use std::fs;
use std::io::{self, Cursor};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Parts of a workbook that it cannot do without, where the bytes give none.
const PARTS: [(&str, &str); 3] = [
    (
        "[Content_Types].xml",
        "<Types><Override PartName=\"/xl/workbook.xml\" ContentType=\"application/vnd.openxmlformats-officedocument.\
         spreadsheetml.sheet.main+xml\"/></Types>",
    ),
    (
        "xl/workbook.xml",
        "<workbook xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"><sheets>\
         <sheet name=\"A\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>",
    ),
    (
        "xl/_rels/workbook.xml.rels",
        "<Relationships><Relationship Id=\"r1\" Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/\
         worksheet\" Target=\"worksheets/sheet1.xml\"/></Relationships>",
    ),
];

/// The bytes of a workbook: as they are where they begin as one, else texts set apart by lines of `---`, each with the name of its
/// part on its first line, packed with right checksums.
pub fn workbook(bytes: &[u8]) -> Option<Vec<u8>> {
    if bytes.starts_with(b"PK") || bytes.starts_with(b"\xd0\xcf\x11\xe0") {
        return Some(bytes.to_vec());
    }
    let text = std::str::from_utf8(bytes).ok()?;
    let own: Vec<(&str, &str)> = text.split("\n---\n").take(8).filter_map(|part| part.split_once('\n')).collect();
    let is_open_document = own.iter().any(|(name, _)| *name == "content.xml");
    let given = PARTS.iter().filter(|(name, _)| !is_open_document && own.iter().all(|(own, _)| own != name));
    let mut zip = ZipWriter::new(Vec::new());
    for (name, content) in own.iter().chain(given) {
        zip.entry(name, content.as_bytes()).ok()?;
    }
    zip.finish().ok()
}

/// A byte for the format and the beginning of a bank: a profile is proposed that can be read, or none.
pub fn guess(bytes: &[u8]) {
    let Some((first, bank)) = bytes.split_first() else { return };
    let formats = [Format::Csv, Format::Tsv, Format::JsonLines, Format::Json, Format::Workbook];
    let format = formats[usize::from(*first) % formats.len()];
    let bank = if format == Format::Workbook { workbook(bank) } else { Some(bank.to_vec()) };
    let Some(bank) = bank.map(Arc::<[u8]>::from) else { return };
    let open = move || -> io::Result<Box<dyn Bytes>> { Ok(Box::new(Cursor::new(Arc::clone(&bank)))) };
    let open: Arc<dyn Fn() -> io::Result<Box<dyn Bytes>> + Send + Sync> = Arc::new(open);
    let own = Arc::clone(&open);
    let again: Again = Box::new(move || own());
    let Ok(samples) = sample("bank", format, again, &Settings::default(), READ) else { return };
    let Some(proposal) = propose(&[Bank { name: "bank".to_owned(), format, samples, open }]) else { return };
    assert!(proposal.sound <= proposal.items, "{} of {} are sound", proposal.sound, proposal.items);
    if let Err(faults) = keyassay::profile::read(&proposal.text) {
        panic!("the proposal cannot be read: {faults:?}\n{}", proposal.text);
    }
}

/// A folder of this thread, empty.
fn scratch() -> PathBuf {
    let thread = format!("{:?}", std::thread::current().id()).replace(['(', ')'], "");
    let folder = std::env::temp_dir().join(format!("keyassay-page-{}-{thread}", std::process::id()));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder can be made");
    folder
}

/// A byte for the format and a bank: its pages are whole, with nothing in them that our templates do not write.
pub fn page(bytes: &[u8]) {
    let Some((first, bank)) = bytes.split_first() else { return };
    let formats = [Format::Csv, Format::Tsv, Format::JsonLines, Format::Json, Format::ReactionSmiles, Format::Xml];
    let format = formats[usize::from(*first) % formats.len()];
    let folder = scratch();
    let path = folder.join("bank");
    fs::write(&path, bank).expect("the bank can be written");
    let limits = Limits { search_steps: 2_000, forms: 16, slip_atoms: 2_000, contributors: 64, ..Limits::default() };
    let renderer = CardRenderer { octet: OctetRule::Usual };
    let judge = JudgeSettings { limits: limits.clone(), ..JudgeSettings::default() };
    let settings = Arc::new(Settings { limits, ..Settings::default() });
    let plan = Plan { bank: settings, judge, show_sound: true, renderer: Some(Arc::new(renderer)), ..Plan::default() };
    let input = Input { name: "bank".to_owned(), format, encoding: None, content: Content::Path(path) };
    let about = About { what: "a bank".to_owned(), when: String::new(), skipped: 0 };
    // So few cards a page that a small bank has several.
    let mut report = HtmlReport::create(&folder, about, renderer, 3).expect("the folder can be written");
    run(&plan, &[input], &mut [&mut report], &mut |_| ()).expect("the page can be written");
    drop(report);
    let pages = pages(&folder);
    let _ = fs::remove_dir_all(&folder);
    assert!(pages.iter().any(|(name, _)| name == "audit.html"), "there is no page");
    for (name, text) in &pages {
        if let Err(why) = is_ours(text) {
            panic!("{name}: {why}");
        }
    }
}

fn pages(folder: &Path) -> Vec<(String, String)> {
    let entries = fs::read_dir(folder).expect("the folder is there").flatten();
    let pages = entries.filter(|own| own.path().extension().is_some_and(|ending| ending == "html"));
    pages
        .map(|own| {
            let text = fs::read_to_string(own.path()).expect("a page is UTF-8");
            (own.file_name().to_string_lossy().into_owned(), text)
        })
        .collect()
}

/// Elements of our templates and drawings.
const ELEMENTS: &str = " a article b bdi body button caption circle code dd desc details div dl dt fieldset figcaption figure footer g h1 h2 \
    h3 h4 head header html i label legend li main mark nav ol option p path rect script section select small span strong style \
    summary svg table tbody td text th thead title tr tspan ul ";
/// Those that have no end.
const SINGLE: &str = " br hr input link meta ";

/// Whether a page is whole: every element one of ours and ended, no attribute that acts, no link that leaves the pages.
fn is_ours(text: &str) -> Result<(), String> {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = text.strip_prefix("<!DOCTYPE html>").ok_or("it does not begin as a page")?;
    let mut scripts = 0;
    while let Some(at) = rest.find('<') {
        rest = &rest[at + 1..];
        let end = rest.find('>').ok_or_else(|| format!("a tag has no end: {:?}", rest.get(..40)))?;
        let tag = &rest[..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            let own = open.pop().unwrap_or_default();
            if own != name.trim() {
                return Err(format!("<{own}> is ended by </{name}>"));
            }
            continue;
        }
        // The only remark: it tells our pages from others.
        if tag == "!-- a page of a keyassay audit --" {
            continue;
        }
        let (name, attributes) = tag.split_once(char::is_whitespace).unwrap_or((tag, ""));
        let is_single = SINGLE.contains(&format!(" {} ", name.trim_end_matches('/')));
        if !is_single && !ELEMENTS.contains(&format!(" {} ", name.trim_end_matches('/'))) {
            return Err(format!("<{tag}> is none of ours"));
        }
        acts(attributes)?;
        if is_single || tag.ends_with('/') {
            continue;
        }
        // What stands in these is no markup.
        if name == "script" || name == "style" {
            // A block of data is run by nobody.
            scripts += usize::from(name == "script" && !attributes.contains("application/json"));
            let end = rest.find(&format!("</{name}>")).ok_or("a script or style has no end")?;
            rest = &rest[end..];
        }
        open.push(name);
    }
    if !open.is_empty() || scripts > 1 {
        return Err(format!("{open:?} have no end, {scripts} scripts"));
    }
    Ok(())
}

/// Whether an attribute does something: runs code, loads, or leads elsewhere.
fn acts(attributes: &str) -> Result<(), String> {
    let mut rest = attributes;
    while let Some((name, value)) = rest.split_once("=\"") {
        let name = name.trim().rsplit(char::is_whitespace).next().unwrap_or_default();
        let (value, behind) = value.split_once('"').ok_or_else(|| format!("a value has no end: {attributes}"))?;
        rest = behind;
        let leads_away = name == "href" && !(value.starts_with('#') || value.starts_with("audit"));
        if name.starts_with("on")
            || ["src", "style", "srcdoc", "action", "formaction", "xlink:href"].contains(&name)
            || leads_away
        {
            return Err(format!("{name}=\"{value}\""));
        }
    }
    Ok(())
}
