//! Words that headers use, in some languages. They decide only where the contents of columns do not: between two numberings, between
//! two texts, and for columns that are still empty.

use crate::bank::Task;

/// What a header seems to call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Word {
    Id,
    Start,
    Answer,
    Key,
    Prompt,
    Tags,
}

const WORDS: [(Word, &[&str]); 6] = [
    (
        Word::Id,
        &[
            "id",
            "nr",
            "no",
            "number",
            "item",
            "question id",
            "code",
            "identifier",
            "nummer",
            "kennung",
            "aufgabe",
            "numéro",
            "n°",
            "numero",
            "número",
            "núm",
            "código",
            "codice",
            "numer",
            "kod",
            "номер",
            "№",
            "код",
            "编号",
            "序号",
            "题号",
            "番号",
            "問題番号",
            "id番号",
            "번호",
            "nº",
            "code question",
            "réf",
            "ref",
            "kürzel",
        ],
    ),
    (
        Word::Start,
        &[
            "start",
            "starting material",
            "reactant",
            "reactants",
            "substrate",
            "educt",
            "edukt",
            "ausgangsstoff",
            "startstruktur",
            "réactif",
            "substrat",
            "structure de départ",
            "départ",
            "sustrato",
            "reactivo",
            "estructura inicial",
            "inicio",
            "reagente",
            "substrato",
            "исходное",
            "исходное вещество",
            "реагент",
            "субстрат",
            "起始物",
            "反应物",
            "底物",
            "出発物質",
            "反応物",
            "基質",
            "출발물질",
            "uitgangsstof",
            "substraat",
        ],
    ),
    (
        Word::Answer,
        &[
            "answer",
            "product",
            "products",
            "solution",
            "result",
            "antwort",
            "lösung",
            "produkt",
            "ergebnis",
            "réponse",
            "produit",
            "solution attendue",
            "respuesta",
            "producto",
            "solución",
            "risposta",
            "prodotto",
            "resposta",
            "produto",
            "odpowiedź",
            "ответ",
            "продукт",
            "答案",
            "产物",
            "生成物",
            "答え",
            "解答",
            "正解",
            "답",
            "생성물",
            "antwoord",
            "product attendu",
        ],
    ),
    (
        Word::Key,
        &[
            "key",
            "correct",
            "correct option",
            "schlüssel",
            "richtig",
            "richtige antwort",
            "clé",
            "bonne réponse",
            "clave",
            "correcta",
            "chiave",
            "correta",
            "klucz",
            "ключ",
            "правильный",
            "正确",
            "正确选项",
            "正解",
            "정답",
            "sleutel",
        ],
    ),
    (
        Word::Prompt,
        &[
            "prompt",
            "question",
            "text",
            "stem",
            "frage",
            "aufgabenstellung",
            "fragetext",
            "énoncé",
            "consigne",
            "pregunta",
            "enunciado",
            "domanda",
            "pergunta",
            "pytanie",
            "вопрос",
            "условие",
            "题目",
            "问题",
            "題目",
            "問題",
            "問題文",
            "문제",
            "vraag",
        ],
    ),
    (
        Word::Tags,
        &[
            "tags",
            "tag",
            "topic",
            "category",
            "chapter",
            "thema",
            "kapitel",
            "kategorie",
            "thème",
            "chapitre",
            "tema",
            "categoría",
            "capítulo",
            "argomento",
            "capitolo",
            "тема",
            "раздел",
            "主题",
            "类别",
            "章节",
            "分野",
            "単元",
            "주제",
            "onderwerp",
        ],
    ),
];

/// What a header seems to call, by the word alone or by the first of several.
pub(super) fn of_header(header: &str) -> Option<Word> {
    let around: &[char] = &['.', ':', '#', '(', ')', '*', ' ', '_', '-'];
    let header = header.trim().to_lowercase().replace('_', " ");
    let bare = header.trim_matches(around);
    let first = bare.split([' ', '/', '(']).next().unwrap_or_default().trim_matches(around);
    let has = |text: &str| WORDS.iter().find(|(_, words)| words.contains(&text)).map(|(word, _)| *word);
    has(bare).or_else(|| has(first))
}

/// How words begin that name tasks, in lower case. Short ones are whole words.
const TASKS: [(Task, &[&str]); 3] = [
    (
        Task::Resonance,
        &[
            "resonan",
            "résonan",
            "rezonan",
            "risonan",
            "ressonân",
            "mesomer",
            "mésom",
            "mezomer",
            "mezomér",
            "резонанс",
            "мезомер",
            "共鳴",
            "共振",
            "공명",
        ],
    ),
    (
        Task::Step,
        &[
            "step",
            "element",
            "élément",
            "mechanis",
            "mécanis",
            "mecanis",
            "meccanis",
            "reakti",
            "reaction",
            "réaction",
            "reacci",
            "reazion",
            "reação",
            "schritt",
            "étape",
            "etap",
            "paso",
            "passo",
            "stap",
            "steg",
            "krok",
            "стади",
            "шаг",
            "механизм",
            "реакц",
            "步",
            "机理",
            "反应",
            "段階",
            "反応",
            "機構",
            "단계",
            "반응",
        ],
    ),
    (
        Task::Contributors,
        &[
            "contribut",
            "grenzform",
            "grenzstruktur",
            "formes limites",
            "formas límite",
            "canonical",
            "kanonische",
            "предельн",
            "極限",
            "极限",
            "한계",
        ],
    ),
];

/// The task that a word seems to name.
pub(super) fn task_of(word: &str) -> Option<Task> {
    let word = word.trim().to_lowercase();
    let begins = |own: &&str| word.starts_with(*own);
    Task::from_name(&word)
        .or_else(|| TASKS.iter().find(|(_, words)| words.iter().any(begins)).map(|(task, _)| *task))
}

#[cfg(test)]
mod tests {
    use super::{Word, of_header};

    #[test]
    fn headers_are_known_by_a_word() {
        let cases = [
            ("Nr.", Some(Word::Id)),
            ("Question ID", Some(Word::Id)),
            ("Antwort (SMILES)", Some(Word::Answer)),
            ("ПРОДУКТ", Some(Word::Answer)),
            ("番号", Some(Word::Id)),
            ("Points", None),
            ("", None),
        ];
        let wrong: Vec<_> = cases.iter().filter(|(header, word)| of_header(header) != *word).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
    }
}
