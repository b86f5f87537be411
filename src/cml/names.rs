//! The vocabulary: which namespaces are Chemical Markup Language, which of its elements and attributes are read.

/// Namespaces of the language, without a closing slash: schema 2.4 and 3, and the two modules of schema 2.
const NAMESPACES: [&str; 3] = [
    "http://www.xml-cml.org/schema",
    "http://www.xml-cml.org/schema/cml2/core",
    "http://www.xml-cml.org/schema/cml2/react",
];

/// Whether elements of this namespace are CML. Documents without any namespace are.
pub(crate) fn is_cml(namespace: Option<&str>) -> bool {
    namespace.is_none_or(|name| NAMESPACES.contains(&name.strip_suffix('/').unwrap_or(name)))
}

/// Declares an enum whose members are names of the language, with the look-up.
macro_rules! vocabulary {
    ($(#[$meta:meta])* $name:ident { $($member:ident = $($text:literal)|+),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum $name { $($member),+ }

        impl $name {
            /// The member with this name.
            pub(crate) fn from_name(name: &str) -> Option<Self> {
                Some(match name { $($($text)|+ => Self::$member,)+ _ => return None })
            }

            /// The name, in its present form where there are several.
            pub(crate) fn name(self) -> &'static str {
                match self { $(Self::$member => [$($text),+][0]),+ }
            }
        }
    };
}

vocabulary! {
    /// Elements that mean something here.
    Tag {
        Atom = "atom", AtomArray = "atomArray", AtomParity = "atomParity",
        Bond = "bond", BondArray = "bondArray", BondStereo = "bondStereo",
        Coordinate2 = "coordinate2", Electron = "electron", Float = "float", FloatArray = "floatArray",
        Formula = "formula", Integer = "integer", IntegerArray = "integerArray",
        Label = "label", Link = "link", Map = "map", Metadata = "metadata", MetadataList = "metadataList", Molecule = "molecule", Name = "name",
        Product = "product", ProductList = "productList",
        Reactant = "reactant", ReactantList = "reactantList",
        Reaction = "reaction", ReactionList = "reactionList", ReactionScheme = "reactionScheme",
        ReactionStep = "reactionStep", ReactionStepList = "reactionStepList",
        Spectator = "spectator", SpectatorList = "spectatorList",
        StringValue = "string", StringArray = "stringArray",
    }
}

vocabulary! {
    /// Attributes that mean something here. Old names follow the present one.
    Key {
        AtomId = "atomID" | "atomId", AtomMap = "atomMap", AtomRef = "atomRef",
        AtomRef1 = "atomRef1" | "atomRefs1", AtomRef2 = "atomRef2", AtomRefs = "atomRefs",
        AtomRefs2 = "atomRefs2", AtomRefs4 = "atomRefs4",
        BondId = "bondID" | "bondId", BondRef = "bondRef", BondRefs = "bondRefs", Builtin = "builtin", Content = "content",
        Convention = "convention", ConventionValue = "conventionValue", Count = "count",
        DictRef = "dictRef", ElectronMap = "electronMap", ElementType = "elementType",
        FormalCharge = "formalCharge", From = "from", FromContext = "fromContext",
        FromSet = "fromSet", FromType = "fromType", HydrogenCount = "hydrogenCount", Id = "id",
        IsotopeNumber = "isotopeNumber" | "isotope", Name = "name", Order = "order", Ref = "ref", Role = "role",
        SpinMultiplicity = "spinMultiplicity", Title = "title", To = "to", ToContext = "toContext",
        ToSet = "toSet", ToType = "toType", Type = "type", X2 = "x2", X3 = "x3", Y2 = "y2", Y3 = "y3", Z3 = "z3",
    }
}

impl Tag {
    /// Whether the text inside the element is read.
    pub(crate) fn holds_text(self) -> bool {
        matches!(
            self,
            Self::AtomParity
                | Self::BondStereo
                | Self::Coordinate2
                | Self::Float
                | Self::FloatArray
                | Self::Integer
                | Self::IntegerArray
                | Self::Label
                | Self::Name
                | Self::StringValue
                | Self::StringArray
        )
    }
}
