//! Scenes as SVG documents and fragments.

use super::canvas::{Canvas, Number, SCALE, TEXT, TINY, escape};
use super::curves::{self, Curve};
use super::figure::{Figure, Run};
use super::geometry::Position;
use super::{Scene, bonds, labels, layout, wedges};
use crate::arrows::{Arrow, Place};
use crate::structure::localise::localise;
use crate::structure::{AtomId, Structure};
use std::fmt::Write as _;

/// Colours for a picture that stands alone, on white. A page that embeds fragments sets its own for the same classes.
const STYLE: &str = ".ka-arrows,.ka-arrow-head,.ka-number{color:#b3261e}.ka-label{color:#52606d}\
.ka-ring{color:#e2d4fa}.ka-caption,.ka-sign{color:#1f2933}";

/// The longest band under a bond that differs, in bond lengths.
const BAND: f64 = 2.2;

/// How much larger a page shows a picture than it is alone: its smallest text is then as large as the page's.
const PAGE_SCALE: f64 = 1.3;

/// A scene in a row, with what stands before it and under it.
#[derive(Debug, Clone)]
pub struct Panel<'a> {
    /// The picture.
    pub scene: Scene<'a>,
    /// Written under it.
    pub caption: String,
    /// Drawn before it: `+`, an arrow, or nothing.
    pub sign: Option<char>,
}

/// A picture that stands alone: SVG with its own colours on white.
#[must_use]
pub fn svg(scene: &Scene) -> String {
    document(&draw(scene), &scene.title, &scene.in_words(), true)
}

/// The same picture for a page: no colours but `currentColor`, which the page's classes set (`ka-arrows`, `ka-label`, ...).
#[must_use]
pub fn fragment(scene: &Scene) -> String {
    document(&draw(scene), &scene.title, &scene.in_words(), false)
}

/// Several scenes for a page, all in one frame, so that an atom that they share stands at the same place in each picture.
#[must_use]
pub fn fragments(scenes: &[Scene]) -> Vec<String> {
    let mut drawn: Vec<Canvas> = scenes.iter().map(draw).collect();
    let corners: Vec<Position> = drawn.iter().flat_map(|canvas| <[_; 2]>::from(canvas.extent())).collect();
    for canvas in &mut drawn {
        for corner in &corners {
            canvas.include(*corner, 0.0);
        }
    }
    let pairs = drawn.iter().zip(scenes);
    pairs.map(|(canvas, scene)| document(canvas, &scene.title, &scene.in_words(), false)).collect()
}

/// Several scenes side by side in one picture; `alone` as for [`svg`], else as for [`fragment`].
#[must_use]
pub fn row(panels: &[Panel], title: &str, alone: bool) -> String {
    let drawn: Vec<Canvas> = panels.iter().map(|panel| draw(&panel.scene)).collect();
    let heights = drawn.iter().map(Canvas::extent).map(|(low, high)| high.y - low.y);
    let height = heights.fold(1.0, f64::max);
    let mut whole = Canvas::default();
    let mut cursor = 0.0;
    let mut words = String::new();
    for (panel, canvas) in panels.iter().zip(&drawn) {
        if let Some(sign) = panel.sign {
            cursor += 0.4;
            whole.raw("<g class=\"ka-sign\" fill=\"currentColor\" stroke=\"none\" text-anchor=\"middle\">");
            whole.text(Position::new(cursor, 0.0), 0.8, &sign.to_string());
            whole.raw("</g>");
            cursor += 0.4;
        }
        let (low, high) = canvas.extent();
        let caption = super::canvas::width(&panel.caption) * 0.42;
        let width = (high.x - low.x).max(caption);
        let shift = Position::new(cursor + width / 2.0 - f64::midpoint(low.x, high.x), -f64::midpoint(low.y, high.y));
        whole.raw(&format!("<g transform=\"translate({} {})\">", Number(shift.x * SCALE), Number(-shift.y * SCALE)));
        whole.raw(canvas.body());
        whole.raw("</g>");
        whole.include(low + shift, 0.0);
        whole.include(high + shift, 0.0);
        if !panel.caption.is_empty() {
            whole.raw("<g class=\"ka-caption\" fill=\"currentColor\" text-anchor=\"middle\">");
            whole.text(Position::new(cursor + width / 2.0, -height / 2.0 - 0.4), 0.42, &panel.caption);
            whole.raw("</g>");
        }
        cursor += width;
        let _ = write!(words, "{}: {} ", panel.caption, panel.scene.in_words());
    }
    document(&whole, title, words.trim(), alone)
}

/// The curves that a scene's arrows get, for tests and measures.
#[must_use]
pub fn curves_of(scene: &Scene) -> Vec<Curve> {
    if scene.coordinates.len() < scene.structure.atom_count() {
        return Vec::new();
    }
    curves::choose(&Figure::new(scene), &known_arrows(scene))
}

/// Everything that a picture of a scene places, for its measure: the figure, the curves, the labels of atoms and the numbers
/// of arrows.
pub(super) fn with_figure<T>(scene: &Scene, then: impl FnOnce(&Figure, &[Curve], [&[Run]; 2]) -> T) -> T {
    let figure = Figure::new(scene);
    let curves = curves::choose(&figure, &known_arrows(scene));
    let labels = labels::place(&figure, scene, &curves);
    let numbers = curves::numbers(&figure, &curves, &labels);
    then(&figure, &curves, [&labels, &numbers])
}

/// The bonds that a scene shows as wedges: from the centre, to the neighbour, whether it rises.
#[must_use]
pub fn wedges_of(scene: &Scene) -> Vec<(AtomId, AtomId, bool)> {
    if scene.coordinates.len() < scene.structure.atom_count() {
        return Vec::new();
    }
    let figure = Figure::new(scene);
    let wedges = wedges::assign(&figure, &layout::rings_of(scene.structure));
    let drawn = |bond| wedges.bonds.get(&bond).map(|wedge| (bond, wedge.from, wedge.up));
    let ends = |(bond, from, up)| {
        let (a, b) = scene.structure.ends(bond);
        (from, if from == a { b } else { a }, up)
    };
    scene.structure.bond_ids().filter_map(drawn).map(ends).collect()
}

/// The hydrogens that a scene draws for wedges though its structure only counts them: from the centre, to which point, whether it
/// rises.
#[must_use]
pub fn hydrogens_of(scene: &Scene) -> Vec<(AtomId, Position, bool)> {
    if scene.coordinates.len() < scene.structure.atom_count() {
        return Vec::new();
    }
    let figure = Figure::new(scene);
    let wedges = wedges::assign(&figure, &layout::rings_of(scene.structure));
    wedges.hydrogens.into_iter().map(|(own, up)| (own.centre, own.at, up)).collect()
}

/// Arrows all of whose atoms exist.
/// Arrows that a picture shows at most. A hundred on one structure hide it and each other, and each is laid out against all
/// that are drawn before it; the words of the picture still tell the rest.
const ARROWS: usize = 100;

fn known_arrows(scene: &Scene) -> Vec<Arrow> {
    let exists = |place: Place<AtomId>| place.atoms().all(|atom| atom.index() < scene.structure.atom_count());
    scene.arrows.iter().filter(|arrow| exists(arrow.tail) && exists(arrow.head)).take(ARROWS).copied().collect()
}

fn document(canvas: &Canvas, title: &str, words: &str, alone: bool) -> String {
    let (low, high) = canvas.extent();
    let margin = 0.25;
    let (left, top) = ((low.x - margin) * SCALE, -(high.y + margin) * SCALE);
    let (width, height) = ((high.x - low.x + 2.0 * margin) * SCALE, (high.y - low.y + 2.0 * margin) * SCALE);
    let size = if alone { 1.0 } else { PAGE_SCALE };
    let (shown_width, shown_height) = (Number(width * size), Number(height * size));
    let (left, top, width, height) = (Number(left), Number(top), Number(width), Number(height));
    let mut out = String::with_capacity(canvas.body().len() + 1024);
    let space = if alone { " xmlns=\"http://www.w3.org/2000/svg\"" } else { "" };
    let _ = write!(
        out,
        "<svg{space} class=\"ka-drawing\" role=\"img\" viewBox=\"{left} {top} {width} {height}\" \
         width=\"{shown_width}\" height=\"{shown_height}\" font-family=\"Helvetica, Arial, 'Liberation Sans', sans-serif\"><title>{}</title><desc>{}</desc>",
        escape(title),
        escape(words)
    );
    if alone {
        let _ = write!(
            out,
            "<style>{STYLE}</style><rect x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\
             <g color=\"#14181f\">{}</g></svg>",
            canvas.body()
        );
    } else {
        let _ = write!(out, "{}</svg>", canvas.body());
    }
    out
}

fn draw(scene: &Scene) -> Canvas {
    match localised(scene.structure) {
        Some(structure) => draw_localised(&Scene { structure: &structure, ..scene.clone() }),
        None => draw_localised(scene),
    }
}

/// One localised form of a structure whose delocalised bonds are all open. One that is localised already stays as it is.
fn localised(structure: &Structure) -> Option<Structure> {
    let mut delocalised = structure.bonds().filter(|(.., bond)| bond.aromatic).peekable();
    delocalised.peek()?;
    if delocalised.any(|(.., bond)| bond.order > 1) {
        return None;
    }
    let mut form = structure.clone();
    localise(&mut form).ok()?;
    for bond in form.bond_ids() {
        form.bond_mut(bond).aromatic = false;
    }
    Some(form)
}

fn draw_localised(scene: &Scene) -> Canvas {
    let mut canvas = Canvas::default();
    let atoms = scene.structure.atom_count();
    if scene.coordinates.len() < atoms || atoms == 0 {
        draw_size(atoms, &mut canvas);
        return canvas;
    }
    let figure = Figure::new(scene);
    let arrows = known_arrows(scene);
    let curves = curves::choose(&figure, &arrows);
    let labels = labels::place(&figure, scene, &curves);
    draw_rings(scene, &figure, &mut canvas);
    bonds::draw(&figure, &layout::rings_of(scene.structure), &mut canvas);
    draw_text(&figure, &labels, &mut canvas);
    curves::draw(&figure, &curves, &labels, &mut canvas);
    for point in scene.coordinates {
        canvas.include(*point, 0.2);
    }
    canvas
}

fn draw_size(atoms: usize, canvas: &mut Canvas) {
    let text = if atoms == 0 { "nothing drawn".to_owned() } else { format!("{atoms} atoms: too many to draw") };
    canvas.raw("<g fill=\"currentColor\" text-anchor=\"middle\">");
    canvas.text(Position::default(), 0.42, &text);
    canvas.raw("</g>");
}

fn draw_text(figure: &Figure, labels: &[Run], canvas: &mut Canvas) {
    canvas.raw(&format!(
        "<g class=\"ka-atom\" fill=\"currentColor\" font-size=\"{:.1}\" text-anchor=\"middle\">",
        TEXT * SCALE
    ));
    for run in figure.writing.iter().flat_map(|writing| &writing.runs) {
        canvas.text(run.at, run.size, &run.text);
    }
    canvas.raw("</g>");
    if !figure.dots.is_empty() {
        canvas.raw("<g class=\"ka-dots\" fill=\"currentColor\">");
        for dots in &figure.dots {
            let here = figure.points.get(dots.atom).copied().unwrap_or_default();
            let side = (dots.middle - here).unit().left() * if dots.pair { 0.085 } else { 0.0 };
            canvas.dot(dots.middle + side, 0.048);
            if dots.pair {
                canvas.dot(dots.middle - side, 0.048);
            }
        }
        canvas.raw("</g>");
    }
    if !labels.is_empty() {
        canvas.raw(&format!(
            "<g class=\"ka-label\" fill=\"currentColor\" font-size=\"{:.1}\" text-anchor=\"middle\">",
            TINY * SCALE
        ));
        for run in labels {
            canvas.text(run.at, run.size, &run.text);
        }
        canvas.raw("</g>");
    }
}

/// Differences: a pale wide band under a bond and one halo under an atom. Shapes, so that they do not speak by colour alone.
fn draw_rings(scene: &Scene, figure: &Figure, canvas: &mut Canvas) {
    let exists = |atom: AtomId| atom.index() < scene.structure.atom_count();
    let mut halos: Vec<AtomId> = scene.ringed_atoms.iter().copied().filter(|atom| exists(*atom)).collect();
    let mut bands = String::new();
    for (a, b) in scene.ringed_bonds.iter().copied().filter(|(a, b)| exists(*a) && exists(*b)) {
        let (from, to) = (figure.at(a), figure.at(b));
        if from.distance(to) > BAND {
            // A bond that is missing between atoms far apart would be a stripe across everything.
            halos.extend([a, b]);
            continue;
        }
        let [x, y] = [from, to].map(|own| format!("{} {}", Number(own.x * SCALE), Number(-own.y * SCALE)));
        let _ = write!(bands, "M{x}L{y}");
        canvas.include(from, 0.35);
        canvas.include(to, 0.35);
    }
    halos.sort_unstable();
    halos.dedup();
    if halos.is_empty() && bands.is_empty() {
        return;
    }
    canvas.raw("<g class=\"ka-ring\" fill=\"currentColor\" stroke=\"none\">");
    if !bands.is_empty() {
        canvas.raw(&format!(
            "<path fill=\"none\" stroke=\"currentColor\" stroke-width=\"{}\" stroke-linecap=\"round\" d=\"{bands}\"/>",
            Number(0.52 * SCALE)
        ));
    }
    for atom in halos {
        canvas.dot(figure.at(atom), 0.46);
    }
    canvas.raw("</g>");
}
