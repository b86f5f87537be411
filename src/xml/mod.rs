//! XML from anywhere: well-formed or refused, within limits, with no document type, no entity and no address opened.
//!
//! [`Scanner`] turns a stream into tokens. Whatever a document does, the memory of one token and of one kept record is
//! bounded by the [`Limits`](crate::limits::Limits).

mod bounded;
pub(crate) mod markup;
mod nodes;
mod scanner;

pub use bounded::Position;
pub(crate) use nodes::{NodeId, Nodes};
pub(crate) use scanner::{RawAttribute, Scanner, Token, plain_value};

/// Why an XML document cannot be read on.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum XmlProblem {
    /// A document type declaration, which may define entities.
    #[error("the document has a DOCTYPE, which is refused; delete the declaration")]
    Doctype,
    /// Not well formed, in the parser's words.
    #[error("the XML is not well formed: {0}")]
    Malformed(String),
    /// The document ends inside an element.
    #[error("the document ends inside <{0}>; it may have been cut off")]
    Unclosed(String),
    /// There is no element at all.
    #[error("the document has no element")]
    Empty,
    /// Bytes that are no UTF-8.
    #[error("the text is not UTF-8; save the document as UTF-8 or name its encoding")]
    NotUtf8,
    /// An entity other than the five of XML and character numbers.
    #[error("the entity &{0}; is not defined; write the character itself")]
    Entity(String),
    /// A prefix without a namespace.
    #[error("the prefix `{0}` is bound to no namespace; declare it with xmlns:{0}=\"...\"")]
    UnboundPrefix(String),
    /// One attribute twice in one element.
    #[error("the attribute `{0}` is given twice in one element")]
    RepeatedAttribute(String),
    /// A cap of [`Limits`](crate::limits::Limits) was met.
    #[error("the document passes the limit `{limit}` of {cap}")]
    Limit {
        /// The limit's name in a profile.
        limit: &'static str,
        /// Its value.
        cap: usize,
    },
    /// The source failed.
    #[error("the document cannot be read: {0}")]
    Source(String),
}
