(() => {
  const all = (selector, from = document) => [...from.querySelectorAll(selector)];
  const make = (name, text, more = {}) => Object.assign(document.createElement(name), { textContent: text }, more);
  const cards = all("article.card");
  const rows = all(".rows > li");
  const groups = all(".rows");
  if (!rows.length) return;
  let filter = document.getElementById("filter");
  const lists = !cards.length;
  // What rows do not show stands behind each group of them: severity, findings, slips, file, place, id, difference, text.
  const data = lists ? all("script[type='application/json']").flatMap((own) => JSON.parse(own.textContent)) : [];

  // A list without cards has no filter of its own: it is made of what is said of its rows.
  const choices = (label, values) => {
    const counts = new Map();
    for (const own of data) for (const value of values(own)) counts.set(value, (counts.get(value) ?? 0) + 1);
    const select = make("select", "", { autocomplete: "off" });
    select.append(make("option", "all", { value: "" }));
    const sorted = [...counts].sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1)).slice(0, 1000);
    for (const [value, count] of sorted) select.append(make("option", `${value} (${count})`, { value }));
    const named = make("label", `${label} `);
    named.append(select);
    filter.append(named);
    return (own) => !select.value || values(own).includes(select.value);
  };
  const words = (text) => (text ? text.split(" ") : []);
  let tests = [];
  if (lists) {
    filter = make("fieldset", "", { className: "filter", id: "filter" });
    filter.append(make("legend", "Show"));
    groups[0].parentNode.before(filter);
    tests = [
      choices("Severity", (own) => words(own[0])), choices("Finding", (own) => words(own[1])), choices("Slip", (own) => words(own[2])),
      choices("File", (own) => [own[3]]),
    ];
  }
  const status = document.getElementById("shown") ?? make("p", "", { className: "shown", id: "shown", role: "status" });
  if (lists) status.setAttribute("role", "status");
  const field = make("input", "", { type: "search", autocomplete: "off" });
  const label = make("label", "Text ");
  label.append(field);
  filter.append(label, status);
  const tools = make("div", "", { className: "tools" });
  filter.append(tools);

  // Ticks stay in the browser, by the id of an item and its place.
  const id = (at) => rows[at].querySelector("a").textContent;
  const key = (at) => `seen ${rows[at].querySelector("code").textContent} ${id(at)}`;
  let stored = new Set();
  try { stored = new Set(Object.keys(localStorage).filter((own) => own.startsWith("seen "))); } catch { /* Nothing is kept here. */ }
  const remember = (at, seen) => {
    try { if (seen) localStorage.setItem(key(at), "1"); else localStorage.removeItem(key(at)); } catch { /* Kept for this visit only. */ }
  };
  const ticked = rows.map((_, at) => stored.size > 0 && stored.has(key(at)));
  rows.forEach((own, at) => { if (ticked[at]) own.classList.add("ticked"); });
  cards.forEach((card, at) => {
    const box = make("input", "", { type: "checkbox", checked: ticked[at] });
    const own = make("label", "", { className: "seen" });
    own.append(box, " seen");
    card.querySelector("h3").after(own);
    box.addEventListener("change", () => {
      ticked[at] = box.checked;
      rows[at].classList.toggle("ticked", box.checked);
      remember(at, box.checked);
    });
  });

  let known;
  const said = (card) => all("h3, .prompt, .tags, .found, .fix", card).map((part) => part.textContent);
  const texts = () => (known ??= (lists ? data : rows.map((own, at) => [own.textContent, ...said(cards[at])]))
    .map((own) => own.join(" ").toLowerCase()));
  if (lists && "requestIdleCallback" in window) requestIdleCallback(texts);
  let hits = rows.map((_, at) => at);
  // Only rows that change are touched: a list may have thousands. A group that is out of view has the height of the rows it shows.
  const hidden = new Uint8Array(rows.length);
  const large = Math.ceil(rows.length / groups.length);
  const settle = () => groups.forEach((own, at) => {
    let shown = 0;
    for (let row = at * large; row < Math.min(rows.length, (at + 1) * large); row += 1) shown += 1 - hidden[place[row]];
    own.classList.toggle("unmatched", shown === 0);
    own.style.containIntrinsicBlockSize = `${shown * 1.9}rem`;
  });
  // The row that stands at each place of the list.
  let place = rows.map((_, at) => at);
  const update = () => {
    const wanted = field.value.toLowerCase().split(/\s+/).filter(Boolean);
    const chosen = lists ? [] : all("select", filter).map((select) => select.value).filter((value) => !value.startsWith("any-"));
    const spoken = wanted.length ? texts() : [];
    hits = [];
    rows.forEach((own, at) => {
      const hit = wanted.every((word) => spoken[at].includes(word)) && tests.every((test) => test(data[at]));
      if (hidden[at] === (hit ? 1 : 0)) {
        hidden[at] = hit ? 0 : 1;
        own.classList.toggle("unmatched", !hit);
      }
      cards[at]?.classList.toggle("unmatched", !hit);
      if (hit && chosen.every((value) => own.classList.contains(value))) hits.push(at);
    });
    if (groups.length > 1) settle();
    status.textContent = `${hits.length} of ${rows.length}${lists ? "" : " cards on this page"}`;
  };

  // The order of the list; that of the cards stays the bank's.
  const order = (name, part) => {
    const button = make("button", name, { type: "button" });
    button.addEventListener("click", () => {
      const keys = rows.map((own, at) => [part ? own.querySelector(part).textContent : "", at]);
      keys.sort((a, b) => (a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : a[1] - b[1]));
      place = keys.map(([, at]) => at);
      groups.forEach((own, at) => own.append(...place.slice(at * large, (at + 1) * large).map((row) => rows[row])));
      if (groups.length > 1) settle();
    });
    tools.append(button);
  };
  tools.append("Order: ");
  order("bank", "");
  order("file", "code");
  order("finding", "span");
  const copied = make("textarea", "", { className: "copied", readOnly: true, hidden: true });
  copied.setAttribute("aria-label", "List of known findings");
  const quoted = (text) => (/[",\n]/.test(text) ? `"${text.replaceAll("\"", "\"\"")}"` : text);
  const copy = (name, seen) => {
    const button = make("button", name, { type: "button" });
    button.addEventListener("click", () => {
      const own = hits.filter((at) => ticked[at] === seen)
        .flatMap((at) => (data[at]?.[1] ?? rows[at].dataset.findings ?? "").split(" ").map((finding) => `${quoted(id(at))},${finding},,`));
      copied.value = ["item,finding,reason,until", ...own].join("\n");
      copied.hidden = false;
      copied.select();
      navigator.clipboard?.writeText(copied.value).catch(() => {});
    });
    tools.append(button);
  };
  tools.append("Copy ids: ");
  copy("seen", true);
  copy("not seen", false);
  const step = (by) => {
    if (!hits.length || !cards.length) return;
    const top = hits.findIndex((at) => cards[at].getBoundingClientRect().top > 2);
    const here = by > 0 ? hits.find((at) => cards[at].getBoundingClientRect().top > filter.offsetHeight + 24)
      : hits.slice(0, top < 0 ? hits.length : top).reverse().find((at) => cards[at].getBoundingClientRect().top < 0);
    const next = here ?? (by > 0 ? hits.at(-1) : hits[0]);
    location.hash = cards[next].id;
    cards[next].focus({ preventScroll: true });
  };
  if (cards.length) {
    for (const [name, by] of [["Previous card (p)", -1], ["Next card (n)", 1]]) {
      const button = make("button", name, { type: "button" });
      button.addEventListener("click", () => step(by));
      tools.append(button);
    }
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches("input, select, textarea")) return;
      if (event.key === "n") step(1);
      if (event.key === "p") step(-1);
    });
  }
  tools.after(copied);
  filter.addEventListener("input", update);
  update();
})();
