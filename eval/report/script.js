"use strict";
(() => {
  const root = document.documentElement;
  root.classList.add("js");
  const data = JSON.parse(document.getElementById("details").textContent);
  const STEP = 100; // rows shown until all are asked for
  const PRINTED = 3; // columns that the style sheet leaves on paper

  /** An element with text, attributes and children; text is never read as markup. */
  const make = (tag, attributes = {}, ...children) => {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
    element.append(...children);
    return element;
  };
  const spaced = (name) => name.replaceAll("_", " ");
  const entryLink = (id) => make("a", { class: "id", href: "#entry/" + encodeURI(id) }, id);
  const percent = (chance) => (100 * chance).toFixed(1) + " %";

  // --- day and night; a browser that keeps nothing for files on disk only forgets the choice
  const memory = {
    get: () => { try { return localStorage.getItem("report-light"); } catch { return null; } },
    set: (value) => { try { localStorage.setItem("report-light", value); } catch { /* not kept */ } },
  };
  const light = (value) => {
    if (value === "day" || value === "night") root.dataset.theme = value;
    else delete root.dataset.theme;
  };
  const kept = memory.get();
  light(kept);
  for (const radio of document.querySelectorAll("input[name=theme]")) {
    radio.checked = radio.value === (kept || "system");
    radio.addEventListener("change", () => { light(radio.value); memory.set(radio.value); });
  }

  // --- sorting
  const valueOf = (row, column, number) => {
    const cell = row.cells[column];
    const text = cell.dataset.v ?? cell.textContent.trim();
    if (!number) return text.toLowerCase();
    const figure = parseFloat(text);
    return Number.isNaN(figure) ? -Infinity : figure;
  };
  const sort = (table, head) => {
    const up = head.getAttribute("aria-sort") !== "ascending";
    for (const other of table.tHead.rows[0].cells) other.setAttribute("aria-sort", "none");
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    const body = table.tBodies[0];
    for (const row of body.querySelectorAll(".detail")) close(row.previousElementSibling);
    const rows = [...body.rows];
    const number = rows.some((row) => "v" in row.cells[head.cellIndex].dataset) || head.classList.contains("n");
    const keyed = rows.map((row) => [valueOf(row, head.cellIndex, number), row]);
    keyed.sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0) * (up ? 1 : -1));
    body.append(...keyed.map(([, row]) => row));
    if (table.id === "question-table") choose();
  };
  for (const table of document.querySelectorAll("table.sortable")) {
    for (const head of table.tHead.rows[0].cells) {
      const button = make("button", { type: "button" }, ...head.childNodes);
      head.append(button);
      head.setAttribute("aria-sort", "none");
      button.addEventListener("click", () => sort(table, head));
    }
  }

  // --- the table of questions
  const table = document.getElementById("question-table");
  const form = document.getElementById("filters");
  const count = document.getElementById("count");
  const more = document.getElementById("more");
  const words = new Map();
  let limit = STEP;

  const fits = (row, chosen) =>
    (!chosen.verdict || chosen.verdict.split(" ").includes(row.dataset.verdict)) &&
    (!chosen.set || row.dataset.set === chosen.set) &&
    (!chosen.group || row.dataset.group === chosen.group) &&
    (!chosen.outcome || row.dataset.outcome === chosen.outcome) &&
    chosen.text.toLowerCase().split(/\s+/).every((word) => words.get(row).includes(word));
  const rowsOf = () => [...table.tBodies[0].rows].filter((row) => !row.classList.contains("detail"));

  const choose = () => {
    const chosen = Object.fromEntries(new FormData(form));
    const rows = rowsOf();
    let fitting = 0;
    for (const row of rows) {
      const fit = fits(row, chosen);
      if (fit) fitting += 1;
      row.hidden = !fit || fitting > limit;
      if (row.nextElementSibling?.classList.contains("detail")) row.nextElementSibling.hidden = row.hidden;
    }
    const shown = Math.min(fitting, limit);
    count.textContent = `${fitting} of ${rows.length} questions fit` + (shown < fitting ? `; the first ${shown} are shown.` : ".");
    more.hidden = shown === fitting;
    more.textContent = `Show all ${fitting}`;
  };

  const list = (items, empty) => (items.length ? items.join(", ") : empty);
  const facts = (item) => {
    const wanted = item.wanted.length
      ? item.wanted.flatMap(([id, grade], i) => [i ? ", " : "", entryLink(id), grade >= 2 ? " (answers it)" : " (useful beside)"])
      : ["no entry"];
    const pairs = [
      ["What went wrong", [list(item.faults, "nothing")]],
      ["Written at", [item.place]],
      ["Machine in scope", [item.machine || "none"]],
      ["Outcome", [spaced(item.outcome) + (item.outcome === item.wantedOutcome ? ", as wanted" : `, wanted ${spaced(item.wantedOutcome)}`)]],
      ["Wanted", item.wantedRefusal ? [entryLink(item.wantedRefusal), " (refusal)"] : wanted],
      ...(item.refusal ? [["Refused as", [entryLink(item.refusal)]]] : []),
      ["Warnings", [list(item.warnings, "none")]],
      ...(item.missing.length ? [["Warnings missing", [item.missing.join(", ")]]] : []),
      ["Codes understood", [list(item.codes, "none")]],
      ...(item.ungrounded.length ? [["Figures out of nowhere", [item.ungrounded.join(", ")]]] : []),
      ["Chance of being covered", [percent(item.covered)]],
      ["Chance of an unsafe wish", [percent(item.unsafe)]],
      ["Time", [item.elapsedMs.toFixed(1) + " ms"]],
    ];
    return make("dl", {}, ...pairs.flatMap(([name, value]) => [make("dt", {}, name), make("dd", {}, ...value)]));
  };
  const hits = (item) => {
    const head = ["Hit", "Score", ...data.rankers, "Passage that matched"];
    const rows = item.hits.map(([id, score, ranks, passage], i) =>
      make("tr", {},
        make("th", { scope: "row" }, `${i + 1}. `, entryLink(data.texts[id])),
        make("td", { class: "n" }, score.toFixed(4)),
        ...ranks.map((rank) => make("td", { class: "n" }, rank ? String(rank) : "not found")),
        make("td", {}, data.texts[passage])));
    return make("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Table: the first hits" },
      make("table", {},
        make("caption", {}, "The first hits, with their place in each ranker."),
        make("thead", {}, make("tr", {}, ...head.map((name, i) => make("th", { scope: "col", ...(i && i < head.length - 1 ? { class: "n" } : {}) }, name)))),
        make("tbody", {}, ...rows)));
  };
  const open = (row) => {
    if (row.nextElementSibling?.classList.contains("detail")) return;
    const item = data.questions[Number(row.dataset.place)];
    const told = make("ul", { class: "told" }, ...item.told.map((line) => make("li", {}, data.texts[line])));
    const inner = make("div", { class: "inner" }, facts(item),
      ...(item.hits.length ? [hits(item)] : [make("p", {}, "No entry was found.")]), make("h3", {}, "What was told"), told);
    row.after(make("tr", { class: "detail", id: row.id + "-detail" }, make("td", { colspan: String(columns()) }, inner)));
    row.querySelector("button").setAttribute("aria-expanded", "true");
  };
  // a cell that spans more columns than the width shows would make new ones
  const columns = () => [...table.tHead.rows[0].cells].filter((cell) => getComputedStyle(cell).display !== "none").length;
  const span = (count) => { for (const cell of table.querySelectorAll(".detail > td")) cell.colSpan = count; };
  addEventListener("resize", () => span(columns()));
  addEventListener("beforeprint", () => span(PRINTED));
  addEventListener("afterprint", () => span(columns()));
  const close = (row) => {
    row.nextElementSibling.remove();
    row.querySelector("button").setAttribute("aria-expanded", "false");
  };
  for (const row of rowsOf()) {
    words.set(row, row.textContent.toLowerCase());
    const head = row.cells[0];
    const button = make("button", { type: "button", "aria-expanded": "false", "aria-controls": row.id + "-detail" }, ...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => (row.nextElementSibling?.classList.contains("detail") ? close(row) : open(row)));
  }
  const anew = () => { limit = STEP; choose(); };
  form.addEventListener("input", anew);
  document.getElementById("clear").addEventListener("click", () => { form.reset(); anew(); });
  form.addEventListener("submit", (event) => event.preventDefault());
  more.addEventListener("click", () => {
    const next = rowsOf().filter((row) => !row.hidden).length;
    limit = Infinity;
    choose();
    rowsOf().filter((row) => !row.hidden)[next]?.querySelector("button").focus();
  });

  // --- the list of entries
  const entryForm = document.getElementById("entry-filter");
  const entryCount = document.getElementById("entry-count");
  const entries = [...document.querySelectorAll("details.entry")];
  const chooseEntries = () => {
    const wanted = entryForm.elements.text.value.toLowerCase().split(/\s+/);
    for (const entry of entries) {
      const text = entry.firstElementChild.textContent.toLowerCase();
      entry.hidden = !wanted.every((word) => text.includes(word));
    }
    entryCount.textContent = `${entries.filter((entry) => !entry.hidden).length} of ${entries.length} entries fit.`;
  };
  entryForm.addEventListener("input", chooseEntries);
  entryForm.addEventListener("submit", (event) => event.preventDefault());

  // --- links to a question or an entry open it, whatever the filters hide
  const follow = () => {
    let name = location.hash.slice(1);
    try { name = decodeURIComponent(name); } catch { /* taken as it stands */ }
    const target = document.getElementById(name);
    if (!target) return;
    if (target.matches("details.entry")) {
      if (target.hidden) { entryForm.reset(); chooseEntries(); }
      target.open = true;
      target.firstElementChild.focus({ preventScroll: true });
    } else if (target.matches("#question-table tr")) {
      if (target.hidden) { form.reset(); limit = Infinity; choose(); }
      open(target);
      target.querySelector("button").focus({ preventScroll: true });
    } else return;
    target.scrollIntoView();
  };
  addEventListener("hashchange", follow);
  // a link to where the address already points changes no address, yet must open what was closed since
  addEventListener("click", (event) => {
    const link = event.target.closest?.("a[href^='#']");
    if (link && link.getAttribute("href") === location.hash) follow();
  });
  choose();
  chooseEntries();
  follow();
})();
