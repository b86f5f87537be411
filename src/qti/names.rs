//! The vocabulary: which elements of QTI mean something here, under their names in all versions.

/// Whether elements of this namespace are QTI. Version 1.2 has none; HTML in items has that of the items.
pub(super) fn is_qti(namespace: Option<&str>) -> bool {
    namespace.is_none_or(|name| name.starts_with("http://www.imsglobal.org/xsd/"))
}

macro_rules! vocabulary {
    ($($(#[$meta:meta])* $member:ident = $text:literal),+ $(,)?) => {
        /// Elements that mean something here.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(super) enum Tag { $($(#[$meta])* $member,)+ /** Any other that carries fields. */ Other }

        impl Tag {
            fn from_plain(name: &str) -> Option<Self> {
                Some(match name { $($text => Self::$member,)+ _ => return None })
            }
        }
    };
}

vocabulary! {
    // 2.1, 2.2 and, behind `qti-` and with hyphens, 3.0.
    And = "and", AssessmentItem = "assessmentItem", BaseValue = "baseValue", ChoiceInteraction = "choiceInteraction",
    CorrectResponse = "correctResponse", FeedbackBlock = "feedbackBlock", FeedbackInline = "feedbackInline",
    ItemBody = "itemBody", MapEntry = "mapEntry", Mapping = "mapping", Match = "match", Member = "member",
    ModalFeedback = "modalFeedback", Multiple = "multiple", Not = "not",
    Object = "object", Param = "param", ResponseDeclaration = "responseDeclaration", ResponseElse = "responseElse",
    ResponseElseIf = "responseElseIf", ResponseIf = "responseIf", ResponseProcessing = "responseProcessing",
    RubricBlock = "rubricBlock", SetOutcomeValue = "setOutcomeValue", SimpleChoice = "simpleChoice", Value = "value",
    Variable = "variable",
    // 1.2.
    ConditionVar = "conditionvar", FieldEntry = "fieldentry", FieldLabel = "fieldlabel", Item = "item",
    MatApplication = "matapplication", MatText = "mattext", MetadataField = "qtimetadatafield",
    Presentation = "presentation", RespCondition = "respcondition", ResponseLabel = "response_label",
    ResponseLid = "response_lid", SetVar = "setvar", VarEqual = "varequal", VarOther = "varsubset",
}

impl Tag {
    /// The element with this name.
    pub(super) fn from_name(name: &str) -> Option<Self> {
        match name.strip_prefix("qti-") {
            None => Self::from_plain(name),
            Some(name) => Self::from_plain(&camel(name)),
        }
    }

    /// Whether the text inside the element is a value.
    pub(super) fn holds_text(self) -> bool {
        matches!(
            self,
            Self::BaseValue
                | Self::Value
                | Self::FieldEntry
                | Self::FieldLabel
                | Self::MatApplication
                | Self::MatText
                | Self::SetVar
                | Self::VarEqual
        )
    }

    /// Whether what is inside is not part of what is asked.
    pub(super) fn is_aside(self) -> bool {
        matches!(self, Self::FeedbackBlock | Self::FeedbackInline | Self::ModalFeedback | Self::RubricBlock)
    }
}

/// A name with hyphens as one with capitals.
fn camel(name: &str) -> String {
    let mut parts = name.split('-');
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let mut chars = part.chars();
        out.extend(chars.next().map(|first| first.to_ascii_uppercase()));
        out.push_str(chars.as_str());
    }
    out
}

/// What the element at the root of a document, or the one that holds an item, is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Root {
    /// An item, or a list of them.
    Items,
    /// QTI of another kind: a test, a section, a manifest.
    Other,
}

/// What a root element is; `None` where it is no QTI.
#[must_use]
pub fn root(namespace: Option<&str>, name: &str) -> Option<Root> {
    if !is_qti(namespace) {
        return None;
    }
    match name {
        "assessmentItem" | "qti-assessment-item" | "questestinterop" => Some(Root::Items),
        "item" if namespace.is_none() => Some(Root::Items),
        _ if namespace.is_some() => Some(Root::Other),
        _ => None,
    }
}

/// Elements that do not end a word: between others, words are set apart.
pub(super) fn is_inline(name: &str) -> bool {
    matches!(
        name,
        "a" | "abbr"
            | "b"
            | "big"
            | "cite"
            | "code"
            | "em"
            | "i"
            | "q"
            | "small"
            | "span"
            | "strong"
            | "sub"
            | "sup"
            | "tt"
            | "u"
    )
}
