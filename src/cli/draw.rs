//! `keyassay draw START [ARROWS]`, and `keyassay draw --bank BANK --out DIR`.

mod bank;

use super::settings::StructureOptions;
use super::{Ending, output, push, structure};
use crate::arrows::Arrow;
use crate::drawing::layout::lay_out_sequence;
use crate::drawing::{self, Pairs, Panel, Scene};
use crate::profile::Profile;
use crate::structure::Structure;
use std::path::PathBuf;

/// Arguments of `keyassay draw`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The structure, as SMILES or CML.
    #[arg(allow_hyphen_values = true, required_unless_present = "bank")]
    start: Option<String>,
    /// Its arrows: TAIL -> HEAD for a pair, TAIL ~> HEAD for one electron, separated by ';'.
    #[arg(allow_hyphen_values = true)]
    arrows: Option<String>,
    /// Draw every item of a bank, each into a file of its own that is named by its id.
    #[arg(long, value_name = "BANK", conflicts_with_all = ["start", "arrows"], requires = "out")]
    bank: Option<PathBuf>,
    /// Write the picture to this file (.svg) instead of standard output; with --bank, the folder of the pictures.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Draw the product beside the start.
    #[arg(long)]
    product: bool,
    /// Write every atom's number, as arrows name it.
    #[arg(long)]
    numbers: bool,
    /// Format of the bank, where its ending does not say it.
    #[arg(long = "as", value_name = "FORMAT", requires = "bank", value_parser = super::audit::format_names(), ignore_case = true)]
    format: Option<String>,
    /// Lone pairs to draw as dots: those that arrows use, or all.
    #[arg(long, value_enum, default_value_t = Dots::Used)]
    pairs: Dots,
    #[command(flatten)]
    options: StructureOptions,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Dots {
    /// Those that arrows use.
    Used,
    /// Every one.
    All,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    if let (Some(bank), Some(out)) = (&arguments.bank, &arguments.out) {
        return bank::run(arguments, bank, out);
    }
    if let Some(out) = &arguments.out {
        let ending = out.extension().map(|own| own.to_string_lossy().into_owned());
        let is_svg = ending.as_ref().is_none_or(|own| own.eq_ignore_ascii_case("svg"));
        anyhow::ensure!(
            is_svg,
            "{}: drawings are written as SVG, not as .{}: name a file that ends in .svg",
            out.display(),
            ending.unwrap_or_default()
        );
    }
    anyhow::ensure!(!arguments.product || arguments.arrows.is_some(), "--product needs arrows, which lead to it");
    let profile = arguments.options.profile()?;
    let drawn = match &arguments.arrows {
        Some(arrows) => with_arrows(arguments, arrows, &profile),
        None => alone(arguments, &profile),
    };
    let Some((svg, ending)) = drawn else { return Ok(Ending::Found) };
    match &arguments.out {
        Some(file) => output::write(file, svg.as_bytes())?,
        None => output::print(&svg)?,
    }
    Ok(ending)
}

/// A structure without arrows; `None`, and the fault on standard error, where it cannot be read.
fn alone(arguments: &Arguments, profile: &Profile) -> Option<(String, Ending)> {
    let structure = structure::as_drawn(arguments.start.as_deref().unwrap_or_default(), "structure", profile)?;
    Some((picture(arguments.look(), &structure, &[], None), Ending::Fine))
}

/// A start with its arrows; faulty arrows are drawn as far as they can be, with the complaint on standard error.
fn with_arrows(arguments: &Arguments, arrows: &str, profile: &Profile) -> Option<(String, Ending)> {
    let judgement = push::judged(arguments.start.as_deref().unwrap_or_default(), arrows, &profile.judge());
    let complaint = push::complaint(&judgement);
    eprint!("{complaint}");
    let step = judgement.steps.first()?;
    let start = step.start.as_ref()?;
    let product = step.pushed.as_ref().map(|pushed| &pushed.product);
    if step.arrows.is_empty() || (arguments.product && product.is_none()) {
        return None;
    }
    let ending = if complaint.is_empty() { Ending::Fine } else { Ending::Found };
    Some((picture(arguments.look(), start, &step.arrows, product), ending))
}

/// How a structure is drawn.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Look {
    /// Every lone pair, not only those that arrows use.
    pub(crate) all_pairs: bool,
    /// Every atom's number, as arrows name it.
    pub(crate) numbers: bool,
    /// The product is only to bend the start.
    pub(crate) start_alone: bool,
}

impl Arguments {
    fn look(&self) -> Look {
        Look { all_pairs: self.pairs == Dots::All, numbers: self.numbers, start_alone: !self.product }
    }
}

/// The start with its arrows, and the product beside it where there is one.
pub(crate) fn picture(look: Look, start: &Structure, arrows: &[Arrow], product: Option<&Structure>) -> String {
    // The start is laid out for what it becomes, whether that is drawn or not.
    let drawn: Vec<&Structure> = std::iter::once(start).chain(product).collect();
    let mut points = lay_out_sequence(&drawn).into_iter();
    let (first, second) = (points.next().unwrap_or_default(), points.next().unwrap_or_default());
    let pairs = if look.all_pairs { Pairs::All } else { Pairs::Used };
    let title = if arrows.is_empty() { "Structure" } else { "Start with its arrows" };
    let mut scene = Scene { pairs, title: title.to_owned(), ..Scene::new(start, &first, arrows) };
    if look.numbers {
        scene.labels = start.atom_ids().collect();
    }
    let Some(product) = product.filter(|_| !look.start_alone) else { return drawing::svg(&scene) };
    let labels = if look.numbers { product.atom_ids().collect() } else { scene.labels.clone() };
    let other = Scene { pairs, labels, title: "Product".to_owned(), ..Scene::new(product, &second, &[]) };
    let panels = [
        Panel { scene, caption: "start".to_owned(), sign: None },
        Panel { scene: other, caption: "product".to_owned(), sign: Some('\u{2192}') },
    ];
    drawing::row(&panels, "Start with its arrows, and the product", true)
}
