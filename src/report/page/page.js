(() => {
  const cards = [...document.querySelectorAll("article.card")];
  const status = document.getElementById("shown");
  const filter = document.getElementById("filter");
  document.addEventListener("focusin", (event) => {
    if (event.target.matches("input[readonly]")) event.target.select();
  });
  if (!filter) return;
  const label = document.createElement("label");
  const field = document.createElement("input");
  field.type = "search";
  field.autocomplete = "off";
  label.append("Text ", field);
  filter.insertBefore(label, status);
  const texts = cards.map((card) => [...card.querySelectorAll("h3, .place, .prompt, .tags, .found")]
    .map((part) => part.textContent).join(" ").toLowerCase());
  const links = new Map([...document.querySelectorAll(".ids li")].map((item) => [item.firstChild.hash, item]));
  const update = () => {
    const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
    const chosen = [...filter.querySelectorAll("select")].map((select) => select.value)
      .filter((value) => !value.startsWith("any-"));
    let count = 0;
    cards.forEach((card, at) => {
      const hit = words.every((word) => texts[at].includes(word));
      card.classList.toggle("unmatched", !hit);
      links.get("#" + card.id)?.classList.toggle("unmatched", !hit);
      if (hit && chosen.every((value) => card.classList.contains(value))) count += 1;
    });
    status.textContent = count + " of " + cards.length + " cards on this page";
  };
  filter.addEventListener("input", update);
  update();
})();
