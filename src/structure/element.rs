//! The elements: symbols, valence electrons, shells.
//!
//! One table decides everything that depends on the element. Valence electrons are the group's (electron configurations
//! and groups: Blue Obelisk Data Repository, Debian package `bodr`, `elements.xml`, MIT). Electronegativities are
//! Pauling's in hundredths, from the same repository. What a shell holds is the rule of the project's contract: the octet
//! to neon (IUPAC Gold Book LT07065), beyond it the numbers that conventional drawings of hypervalent molecules reach
//! (Gold Book HT07054); for elements that it does not name, those of the neighbour above in the group.

/// An element by atomic number; 0 is the unspecified atom `*`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Element(u8);

/// Which over-full shells are accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OctetRule {
    /// Beyond neon, shells hold what conventional drawings show (sulfate 12, perchlorate 14).
    #[default]
    Usual,
    /// Every main-group shell but that of hydrogen and helium holds 8.
    Strict,
}

struct Row {
    symbol: &'static str,
    name: &'static str,
    /// Valence electrons; 0 where electrons are not judged (d and f block, `*`).
    valence: u8,
    /// Electrons that the valence shell holds as conventionally drawn; 0 where not judged.
    shell: u8,
    /// Pauling electronegativity in hundredths; 0 where none is tabulated.
    electronegativity: u16,
}

const fn e(symbol: &'static str, name: &'static str, valence: u8, shell: u8, electronegativity: u16) -> Row {
    Row { symbol, name, valence, shell, electronegativity }
}

#[rustfmt::skip]
static TABLE: [Row; 119] = [
    e("*", "any", 0, 0, 0),
    e("H", "hydrogen", 1, 2, 220),
    e("He", "helium", 2, 2, 0),
    e("Li", "lithium", 1, 8, 98),
    e("Be", "beryllium", 2, 8, 157),
    e("B", "boron", 3, 8, 204),
    e("C", "carbon", 4, 8, 255),
    e("N", "nitrogen", 5, 8, 304),
    e("O", "oxygen", 6, 8, 344),
    e("F", "fluorine", 7, 8, 398),
    e("Ne", "neon", 8, 8, 0),
    e("Na", "sodium", 1, 12, 93),
    e("Mg", "magnesium", 2, 12, 131),
    e("Al", "aluminium", 3, 12, 161),
    e("Si", "silicon", 4, 12, 190),
    e("P", "phosphorus", 5, 12, 219),
    e("S", "sulfur", 6, 12, 258),
    e("Cl", "chlorine", 7, 14, 316),
    e("Ar", "argon", 8, 8, 0),
    e("K", "potassium", 1, 12, 82),
    e("Ca", "calcium", 2, 12, 100),
    e("Sc", "scandium", 0, 0, 136),
    e("Ti", "titanium", 0, 0, 154),
    e("V", "vanadium", 0, 0, 163),
    e("Cr", "chromium", 0, 0, 166),
    e("Mn", "manganese", 0, 0, 155),
    e("Fe", "iron", 0, 0, 183),
    e("Co", "cobalt", 0, 0, 188),
    e("Ni", "nickel", 0, 0, 191),
    e("Cu", "copper", 0, 0, 190),
    e("Zn", "zinc", 0, 0, 165),
    e("Ga", "gallium", 3, 12, 181),
    e("Ge", "germanium", 4, 12, 201),
    e("As", "arsenic", 5, 12, 218),
    e("Se", "selenium", 6, 12, 255),
    e("Br", "bromine", 7, 14, 296),
    e("Kr", "krypton", 8, 16, 300),
    e("Rb", "rubidium", 1, 12, 82),
    e("Sr", "strontium", 2, 12, 95),
    e("Y", "yttrium", 0, 0, 122),
    e("Zr", "zirconium", 0, 0, 133),
    e("Nb", "niobium", 0, 0, 160),
    e("Mo", "molybdenum", 0, 0, 216),
    e("Tc", "technetium", 0, 0, 190),
    e("Ru", "ruthenium", 0, 0, 220),
    e("Rh", "rhodium", 0, 0, 228),
    e("Pd", "palladium", 0, 0, 220),
    e("Ag", "silver", 0, 0, 193),
    e("Cd", "cadmium", 0, 0, 169),
    e("In", "indium", 3, 12, 178),
    e("Sn", "tin", 4, 12, 196),
    e("Sb", "antimony", 5, 12, 205),
    e("Te", "tellurium", 6, 12, 210),
    e("I", "iodine", 7, 14, 266),
    e("Xe", "xenon", 8, 16, 260),
    e("Cs", "caesium", 1, 12, 79),
    e("Ba", "barium", 2, 12, 89),
    e("La", "lanthanum", 0, 0, 110),
    e("Ce", "cerium", 0, 0, 0),
    e("Pr", "praseodymium", 0, 0, 0),
    e("Nd", "neodymium", 0, 0, 0),
    e("Pm", "promethium", 0, 0, 0),
    e("Sm", "samarium", 0, 0, 0),
    e("Eu", "europium", 0, 0, 0),
    e("Gd", "gadolinium", 0, 0, 0),
    e("Tb", "terbium", 0, 0, 0),
    e("Dy", "dysprosium", 0, 0, 0),
    e("Ho", "holmium", 0, 0, 0),
    e("Er", "erbium", 0, 0, 0),
    e("Tm", "thulium", 0, 0, 0),
    e("Yb", "ytterbium", 0, 0, 0),
    e("Lu", "lutetium", 0, 0, 0),
    e("Hf", "hafnium", 0, 0, 130),
    e("Ta", "tantalum", 0, 0, 150),
    e("W", "tungsten", 0, 0, 236),
    e("Re", "rhenium", 0, 0, 190),
    e("Os", "osmium", 0, 0, 220),
    e("Ir", "iridium", 0, 0, 220),
    e("Pt", "platinum", 0, 0, 228),
    e("Au", "gold", 0, 0, 254),
    e("Hg", "mercury", 0, 0, 200),
    e("Tl", "thallium", 3, 12, 162),
    e("Pb", "lead", 4, 12, 233),
    e("Bi", "bismuth", 5, 12, 202),
    e("Po", "polonium", 6, 12, 200),
    e("At", "astatine", 7, 14, 220),
    e("Rn", "radon", 8, 16, 0),
    e("Fr", "francium", 1, 12, 0),
    e("Ra", "radium", 2, 12, 0),
    e("Ac", "actinium", 0, 0, 0),
    e("Th", "thorium", 0, 0, 0),
    e("Pa", "protactinium", 0, 0, 0),
    e("U", "uranium", 0, 0, 0),
    e("Np", "neptunium", 0, 0, 0),
    e("Pu", "plutonium", 0, 0, 0),
    e("Am", "americium", 0, 0, 0),
    e("Cm", "curium", 0, 0, 0),
    e("Bk", "berkelium", 0, 0, 0),
    e("Cf", "californium", 0, 0, 0),
    e("Es", "einsteinium", 0, 0, 0),
    e("Fm", "fermium", 0, 0, 0),
    e("Md", "mendelevium", 0, 0, 0),
    e("No", "nobelium", 0, 0, 0),
    e("Lr", "lawrencium", 0, 0, 0),
    e("Rf", "rutherfordium", 0, 0, 0),
    e("Db", "dubnium", 0, 0, 0),
    e("Sg", "seaborgium", 0, 0, 0),
    e("Bh", "bohrium", 0, 0, 0),
    e("Hs", "hassium", 0, 0, 0),
    e("Mt", "meitnerium", 0, 0, 0),
    e("Ds", "darmstadtium", 0, 0, 0),
    e("Rg", "roentgenium", 0, 0, 0),
    e("Cn", "copernicium", 0, 0, 0),
    e("Nh", "nihonium", 3, 12, 0),
    e("Fl", "flerovium", 4, 12, 0),
    e("Mc", "moscovium", 5, 12, 0),
    e("Lv", "livermorium", 6, 12, 0),
    e("Ts", "tennessine", 7, 14, 0),
    e("Og", "oganesson", 8, 16, 0),
];

/// Elements that are looked up by name in the code because a notation singles them out.
impl Element {
    /// The unspecified atom, `*`.
    pub const ANY: Self = Self(0);
    /// Hydrogen.
    pub const HYDROGEN: Self = Self(1);
    /// Boron.
    pub const BORON: Self = Self(5);
    /// Carbon.
    pub const CARBON: Self = Self(6);
    /// Nitrogen.
    pub const NITROGEN: Self = Self(7);
    /// Oxygen.
    pub const OXYGEN: Self = Self(8);
    /// Fluorine.
    pub const FLUORINE: Self = Self(9);
    /// Phosphorus.
    pub const PHOSPHORUS: Self = Self(15);
    /// Sulfur.
    pub const SULFUR: Self = Self(16);
    /// Chlorine.
    pub const CHLORINE: Self = Self(17);
    /// Bromine.
    pub const BROMINE: Self = Self(35);
    /// Iodine.
    pub const IODINE: Self = Self(53);

    /// The element with this atomic number (1 to 118).
    #[must_use]
    pub fn from_number(number: u8) -> Option<Self> {
        (1..=118).contains(&number).then_some(Self(number))
    }

    /// The element with this symbol, capitals as in the periodic table; `*` is [`Element::ANY`].
    #[must_use]
    pub fn from_symbol(symbol: &[u8]) -> Option<Self> {
        // The organic subset first: it is nearly every atom of a bank.
        let quick = match symbol {
            b"C" => 6,
            b"O" => 8,
            b"N" => 7,
            b"H" => 1,
            b"Br" => 35,
            b"Cl" => 17,
            b"S" => 16,
            b"F" => 9,
            b"P" => 15,
            b"B" => 5,
            b"I" => 53,
            _ => 255,
        };
        if quick != 255 {
            return Some(Self(quick));
        }
        TABLE.iter().position(|row| row.symbol.as_bytes() == symbol).map(|at| Self(at as u8))
    }

    /// Atomic number; 0 for `*`.
    #[must_use]
    pub fn number(self) -> u8 {
        self.0
    }

    fn row(self) -> &'static Row {
        &TABLE[usize::from(self.0)]
    }

    /// The symbol, `C` or `Br`.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// The IUPAC name in small letters.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// Valence electrons of the neutral atom; `None` for d- and f-block atoms and `*`, whose electrons are not judged.
    #[must_use]
    pub fn valence_electrons(self) -> Option<i32> {
        match self.row().valence {
            0 => None,
            some => Some(i32::from(some)),
        }
    }

    /// Electrons that the valence shell may hold; `None` where shells are not judged.
    #[must_use]
    pub fn shell(self, rule: OctetRule) -> Option<i32> {
        match (self.row().shell, rule) {
            (0, _) => None,
            (some, OctetRule::Strict) => Some(i32::from(some.min(8))),
            (some, OctetRule::Usual) => Some(i32::from(some)),
        }
    }

    /// Pauling electronegativity in hundredths; 0 where none is tabulated.
    #[must_use]
    pub fn electronegativity(self) -> u16 {
        self.row().electronegativity
    }

    /// Whether this is a main-group element, whose electrons are judged.
    #[must_use]
    pub fn is_judged(self) -> bool {
        self.row().valence != 0
    }

    /// The valences that implicit hydrogens fill up to, for the organic subset (OpenSMILES 1.0, "Organic subset").
    #[must_use]
    pub fn organic_valences(self) -> &'static [u8] {
        match self {
            Self::BORON => &[3],
            Self::CARBON => &[4],
            Self::NITROGEN | Self::PHOSPHORUS => &[3, 5],
            Self::OXYGEN => &[2],
            Self::SULFUR => &[2, 4, 6],
            Self::FLUORINE | Self::CHLORINE | Self::BROMINE | Self::IODINE => &[1],
            _ => &[],
        }
    }
}

impl std::fmt::Display for Element {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.symbol())
    }
}
