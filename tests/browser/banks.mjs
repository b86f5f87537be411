// Banks that the browser tests audit: a hostile one, a large one, one without a fault.

import { writeFileSync, mkdirSync } from "node:fs";
import { join } from "node:path";

const long = "long".repeat(2500);
const rtl = "\u202Eevil\u202C \u05E9\u05DC\u05D5\u05DD \u200F\u2067mixed\u2069";

// Texts that try to leave their place, by what they try.
export const hostileTexts = {
  script: "<script>window.hacked = 1</script>",
  closing: "</article></main></body><script>window.hacked = 2</script>",
  attribute: "\" onfocus=\"window.hacked=3\" autofocus=\"",
  single: "' onmouseover='window.hacked=4' '",
  link: "javascript:window.hacked=5",
  image: "<img src=x onerror=window.hacked=6>",
  svg: "<svg/onload=window.hacked=7>",
  style: "</style><style>body{display:none}</style>",
  comment: "--><script>window.hacked = 8</script><!--",
  entity: "&lt;b&gt; &amp;amp; &#0; &#x202e;",
  template: "{{ 7 * 7 }} {% include \"x\" %} ${7*7}",
  rtl,
  long,
  words: "word ".repeat(2000),
  controls: "bell \u0007 escape \u001b[31m null-like \u0000 end",
  nonCharacters: "\uFFFE \uFFFF \u{1FFFE} joiners e\u0301\u0301\u0301",
};

const faulty = { start: "[CH2-:1][C:2](=[O:3])[CH3:4]", arrows: "1 -> 1-2; 2-3 -> 3", answer: "[CH2:1]=[C:2]([O:3])[CH3:4]" };

const lines = (items) => items.map((item) => JSON.stringify(item)).join("\n") + "\n";

export function hostile(folder) {
  mkdirSync(folder, { recursive: true });
  const items = [];
  for (const [name, text] of Object.entries(hostileTexts)) {
    items.push({ id: `${name} ${text}`, prompt: text, tags: [text], ...faulty });
    items.push({ id: `start ${name}`, prompt: "", ...faulty, start: text });
    items.push({ id: `arrows ${name}`, prompt: "", ...faulty, arrows: text });
    items.push({ id: `answer ${name}`, prompt: "", ...faulty, answer: text });
  }
  items.push({ id: "chain", ...faulty, start: "C".repeat(10000), arrows: "1-2 -> 2", answer: "C" });
  items.push({ id: "fence", start: "C".repeat(700), arrows: "1-2 -> 2", answer: "C".repeat(700) });
  items.push({ id: "many arrows", start: "[O-:1][CH2:2][CH3:3]", arrows: Array(5000).fill("1 -> 1-2").join("; "), answer: "CCO" });
  items.push({ id: "wide", start: Array(150).fill("[NH5]").join("."), arrows: "1 -> 1-2", answer: "N" });
  const name = "a\"b'<img src=x onerror=window.hacked=9>&amp; \u202Egnp.jsonl".replace(/\//g, "");
  writeFileSync(join(folder, name), lines(items));
  writeFileSync(join(folder, "javascript:alert(1).jsonl"), lines([{ id: "x", ...faulty }]));
  writeFileSync(join(folder, `${"n".repeat(200)}.jsonl`), lines([{ id: "y", ...faulty }]));
  writeFileSync(join(folder, "broken.jsonl"), `{"id": "<script>window.hacked=10</script>", "start": \n{"id": 3}\n`);
}

// Faults of several kinds, so that every list has many items.
const kinds = [
  faulty,
  { start: "[CH2:1]=[CH:2][CH2+:3]", arrows: "1-2 -> 2-3", answer: "[CH2-:1][CH:2]=[CH2:3]" },
  { start: "[NH4+:1].[CH3:2][Br:3]", arrows: "1 -> 1-2; 2-3 -> 3", answer: "C[NH3+].[Br-]" },
  { start: "[OH-:1].[CH3:2][Br:3]", arrows: "1 -> 2-3", answer: "CO.[Br-]" },
  { start: "CC(=O[O-]", arrows: "1 -> 1-2", answer: "C" },
  { start: "[O-:1][C:2](=[O:3])[c:4]1[cH:5][cH:6][cH:7][cH:8][cH:9]1", arrows: "1 -> 1-2; 2-3 -> 3",
    answer: "[O:1]=[C:2]([O:3])[c:4]1[cH:5][cH:6][cH:7][cH:8][cH:9]1" },
  { start: "[OH-:1].[CH3:2][Br:3]", arrows: "1 -> 1-2", answer: "CO.[Br-]" },
];

export function large(folder, count) {
  mkdirSync(folder, { recursive: true });
  const half = Math.ceil(count / 2);
  const item = (at) => ({ id: `HM-${String(at).padStart(5, "0")}`, prompt: `Question ${at} of the set.`, ...kinds[at % kinds.length] });
  const range = (from, to) => Array.from({ length: to - from }, (_, at) => item(from + at));
  writeFileSync(join(folder, "first.jsonl"), lines(range(0, half)));
  writeFileSync(join(folder, "second.jsonl"), lines(range(half, count)));
}

export function faultless(folder) {
  mkdirSync(folder, { recursive: true });
  const item = { start: "[CH2-:1][C:2](=[O:3])[CH3:4]", arrows: "1 -> 1-2; 2-3 -> 3", answer: "[CH2:1]=[C:2]([O-:3])[CH3:4]" };
  writeFileSync(join(folder, "sound.jsonl"), lines([{ id: "one", ...item }]));
}
