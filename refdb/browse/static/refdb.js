/* What a page can do besides: nothing on it needs this file. No other file is asked for, and nothing is sent. */
"use strict";
(() => {
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  const made = (tag, given = {}, ...held) => {
    const one = document.createElement(tag);
    for (const [name, value] of Object.entries(given)) one.setAttribute(name, value);
    one.append(...held);
    return one;
  };
  /* Text in the one form in which it is compared: small letters, no accents, blanks for hyphens. */
  const folded = (text) =>
    text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase().replace(/[-–,()]/g, " ").replace(/\s+/g, " ").trim();
  const words = (text) => folded(text).split(" ").filter(Boolean);
  const holds = (text, wanted) => wanted.every((word) => text.includes(word));

  /* Long selects open a list that narrows while one types. */
  const LONG = 12;
  const picker = (select) => {
    const name = select.getAttribute("aria-label") || (select.labels[0] && select.labels[0].textContent) || "choose";
    const dialog = made("dialog", { class: "picker", "aria-label": name });
    const box = made("input", { type: "search", "aria-label": `Type to narrow: ${name}`, placeholder: name, autocomplete: "off" });
    const list = made("ul"), none = made("p", { class: "soft", role: "status" });
    const rows = all("option", select).map((option) => {
      const group = option.parentElement.label || "";
      const button = made("button", { type: "button" }, option.textContent);
      if (group) button.append(made("span", { class: "soft" }, group));
      button.addEventListener("click", () => {
        select.value = option.value;
        select.dispatchEvent(new Event("change", { bubbles: true }));
        dialog.close();
      });
      const row = made("li", {}, button);
      list.append(row);
      return { row, button, option, text: folded(`${option.textContent} ${group}`) };
    });
    const narrow = () => {
      const wanted = words(box.value);
      let left = 0;
      for (const one of rows) {
        one.row.hidden = !holds(one.text, wanted);
        left += !one.row.hidden;
        one.option.selected ? one.button.setAttribute("aria-current", "true") : one.button.removeAttribute("aria-current");
      }
      none.textContent = left ? "" : "Nothing here is called so.";
    };
    box.addEventListener("input", narrow);
    dialog.addEventListener("keydown", (event) => {
      const seen = rows.filter((one) => !one.row.hidden).map((one) => one.button);
      const at = seen.indexOf(document.activeElement);
      if (event.key === "Enter" && at < 0) {
        event.preventDefault();
        if (seen.length) seen[0].click();
      } else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
        event.preventDefault();
        const next = at + (event.key === "ArrowDown" ? 1 : -1);
        (next < 0 ? box : seen[Math.min(next, seen.length - 1)] || box).focus();
      }
    });
    dialog.addEventListener("click", (event) => event.target === dialog && dialog.close());
    dialog.addEventListener("close", () => select.focus());
    const shut = made("button", { type: "button", class: "quiet" }, "Close");
    shut.addEventListener("click", () => dialog.close());
    dialog.append(made("div", { class: "top" }, box, shut), none, list);
    document.body.append(dialog);
    return (typed) => {
      box.value = typed;
      narrow();
      dialog.showModal();
      box.focus();
      const current = list.querySelector("[aria-current]");
      if (current && !typed) current.scrollIntoView({ block: "center" });
    };
  };
  for (const select of all("select")) {
    if (select.options.length < LONG || !window.HTMLDialogElement) continue;
    let open;
    const shown = (event, typed = "") => {
      event.preventDefault();
      open = open || picker(select);
      open(typed);
    };
    select.addEventListener("mousedown", shown);
    select.addEventListener("keydown", (event) => event.key === "/" && shown(event));
    select.title = "Press / to search";
  }

  /* Long lists get a field that leaves what holds the words. */
  for (const place of all("[data-filter]")) {
    const rows = all(place.dataset.filter, place).map((row) => ({ row, text: folded(row.textContent) }));
    if (rows.length < LONG) continue;
    const box = made("input", { type: "search", autocomplete: "off", maxlength: "80" });
    const told = made("span", { class: "soft", role: "status" });
    place.before(made("p", { class: "fld filter noprint" }, made("label", {}, "Show only what holds ", box), told));
    box.addEventListener("input", () => {
      const wanted = words(box.value);
      let left = 0;
      for (const one of rows) {
        one.row.hidden = !holds(one.text, wanted);
        left += !one.row.hidden;
      }
      for (const head of all(".class", place)) {
        head.hidden = all("tr:not(.class)", head.parentElement).every((row) => row.hidden);
      }
      /* What is found may lie in a fold. */
      if (wanted.length) for (const fold of all("details", place)) fold.open = fold.open || !rows.some((one) => one.row === fold);
      told.textContent = wanted.length ? `${left} of ${rows.length}` : "";
    });
  }

  /* The thicknesses beside a verdict as a slider: letting go asks for the verdict there. */
  for (const pick of all(".pick")) {
    const links = all("a[href*='metal_thickness=']", pick);
    const here = links.find((link) => link.getAttribute("aria-current"));
    const mm = here && /^([\d.]+)\s*mm$/.exec(here.textContent.trim());
    if (!mm) continue;
    const box = made("input", { type: "range", min: "0.3", max: "2", step: "0.05", value: mm[1], id: "thick" });
    const told = made("output", { for: "thick" }, `${mm[1]} mm`);
    box.addEventListener("input", () => { told.textContent = `${Number(box.value)} mm`; });
    box.addEventListener("change", () => {
      const to = new URL(here.href);
      to.searchParams.set("metal_thickness", `${Number(box.value)} mm`);
      location.assign(to);
    });
    pick.append(made("p", { class: "slide noprint" }, made("label", { for: "thick", class: "soft" }, "any other"), box, told));
  }

  /* Ticks on the sheet for the kiln stay in this browser, for this piece. */
  const ticks = all("[data-ticks] input[type=checkbox]");
  if (ticks.length) {
    const key = `refdb ticks ${location.pathname}${location.search}`;
    let kept = {};
    try { kept = JSON.parse(localStorage.getItem(key)) || {}; } catch { /* a browser that keeps nothing */ }
    for (const [n, tick] of ticks.entries()) {
      const name = tick.id || String(n);
      tick.checked = kept[name] === true;
      tick.addEventListener("change", () => {
        kept[name] = tick.checked;
        try { localStorage.setItem(key, JSON.stringify(kept)); } catch { /* as before */ }
      });
    }
    const clear = made("button", { type: "button", class: "quiet noprint" }, "Clear the ticks");
    clear.addEventListener("click", () => {
      for (const tick of ticks) tick.checked = false;
      kept = {};
      try { localStorage.removeItem(key); } catch { /* as before */ }
    });
    document.querySelector("[data-ticks]").append(made("p", {}, clear));
  }

  /* The last pages are kept for when this view cannot be reached, where the browser lets a page do that. */
  if (document.querySelector("link[rel=manifest]") && navigator.serviceWorker) {
    addEventListener("load", () => navigator.serviceWorker.register("/worker.js").catch(() => {}));
  }
  const list = document.querySelector("[data-kept]");
  if (list && window.caches) {
    const shown = async () => {
      const rows = [];
      for (const name of (await caches.keys()).filter((one) => one.startsWith("refdb pages "))) {
        const cache = await caches.open(name);
        for (const key of (await cache.keys()).reverse()) {
          const page = await cache.match(key);
          const text = new DOMParser().parseFromString(await page.text(), "text/html");
          const day = new Date(page.headers.get("date")).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
          const link = made("a", { href: key.url }, text.title.replace(/ – refdb$/, ""));
          rows.push(made("li", {}, link, " ", made("span", { class: "soft" }, day)));
        }
      }
      const forget = made("button", { type: "button", class: "quiet" }, "Forget them all");
      forget.addEventListener("click", async () => {
        for (const name of (await caches.keys()).filter((one) => one.startsWith("refdb pages "))) await caches.delete(name);
        await shown();
      });
      list.replaceChildren(...(rows.length ? [made("ul", { class: "plain" }, ...rows), made("p", {}, forget)] : [made("p", {}, "Nothing is kept yet.")]));
    };
    shown();
  }

  /* What a link within the page leads to is opened where it is folded, for browsers that do not. */
  const unfold = () => {
    for (let fold = location.hash && document.getElementById(location.hash.slice(1))?.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  };
  addEventListener("hashchange", unfold);
  unfold();

  /* Paper has nothing to click on: what is folded is opened first, for browsers whose styles cannot. */
  addEventListener("beforeprint", () => all("details").forEach((one) => { one.open = true; }));

  /* The answer as plain text, to be pasted elsewhere. */
  for (const answer of all("[data-answer]")) {
    const button = made("button", { type: "button", class: "quiet" }, "Copy this answer");
    const told = made("span", { class: "soft", role: "status" });
    button.addEventListener("click", async () => {
      const lines = [document.querySelector("h1"), ...all(answer.dataset.answer)]
        .map((one) => one.innerText.replace(/\s+/g, " ").trim()).filter(Boolean);
      const text = `${lines.join("\n")}\n${location.href}\n`;
      let done = false;
      try {
        await navigator.clipboard.writeText(text);
        done = true;
      } catch {
        /* Over a network without encryption a browser has no clipboard for pages but this one. */
        const area = made("textarea", { class: "vh", readonly: "" });
        area.value = text;
        document.body.append(area);
        area.select();
        done = document.execCommand("copy");
        area.remove();
        button.focus();
      }
      told.textContent = done ? "Copied." : "This browser does not let pages copy.";
    });
    answer.append(made("p", { class: "copy noprint" }, button, " ", told));
  }
})();
