/* What an exported copy needs a script for: forms that choose a page, and the search. All else works without it. */
"use strict";
(function () {
  var here = document.currentScript.src;
  var root = here.slice(0, here.lastIndexOf("/static/") + 1);

  function safe(text) {
    return text.toLowerCase().replace(/[^a-z0-9.]+/g, "-").replace(/^[-.]+|[-.]+$/g, "");
  }

  /* The file of a question, named as the export names it. */
  function place(path, fields) {
    var pairs = fields.map(function (f) { return f[0] + "-" + f[1]; }).sort();
    return pairs.length ? path + "/" + safe(pairs.join(".")) + ".html" : path + ".html";
  }

  var known = { suits: ["glass", "metal"], clears: ["leaf", "metal"], builds: ["glass", "metal"] };

  function say(form, text) {
    var line = form.querySelector(".said") || form.appendChild(document.createElement("p"));
    line.className = "said";
    line.setAttribute("role", "status");
    line.textContent = text;
  }

  Array.prototype.forEach.call(document.forms, function (form) {
    var path = (form.getAttribute("action") || "").split("/").pop().replace(".html", "");
    if (!known[path]) return;
    var first = {};
    new FormData(form).forEach(function (value, name) { first[name] = value; });
    form.addEventListener("submit", function (event) {
      var fields = [], other = false;
      event.preventDefault();
      new FormData(form).forEach(function (value, name) {
        if (!value) return;
        if (known[path].indexOf(name) >= 0) fields.push([name, value]);
        else if (first[name] !== value) other = true;
      });
      if (other) say(form, "This copy holds the standard build alone; refdb itself works out any other.");
      else window.location.href = root + place(path, fields);
    });
  });

  /* The search: each word of the question, without its ending, begins a word of what is found. */
  function folded(text) {
    return text.toLowerCase().normalize("NFD").replace(/[\u0300-\u036f]/g, "");
  }

  function stem(word) {
    var short = word.replace(/(ing|ed|es|s|e)$/, "");
    return short.length >= 3 ? short : word;
  }

  function found(question) {
    var words = (folded(question).match(/[a-z0-9]+/g) || []).map(stem);
    var hits = [];
    window.REFDB.forEach(function (entry, order) {
      var title = " " + folded(entry[1]) , whole = title + " " + folded(entry[3]), score = 0, held = 0;
      words.forEach(function (word) {
        var at = new RegExp("[^a-z0-9]" + word);
        if (at.test(title)) { score += 3; held += 1; } else if (at.test(whole)) { score += 1; held += 1; }
      });
      if (held) hits.push([held, score, -order, entry]);
    });
    hits.sort(function (a, b) { return b[0] - a[0] || b[1] - a[1] || b[2] - a[2]; });
    var most = hits.length ? hits[0][0] : 0;
    return { all: most === words.length, hits: hits.filter(function (h) { return h[0] === most; }).slice(0, 50) };
  }

  if (window.REFDB) {
    var question = (new URLSearchParams(window.location.search).get("q") || "").slice(0, 200);
    var box = document.getElementById("q");
    if (question && box) {
      box.value = question;
      var told = found(question), list = document.createElement("ol"), line = document.createElement("p");
      line.textContent = !told.hits.length ? "Nothing here holds these words." :
        told.all ? told.hits.length + (told.hits.length === 1 ? " entry." : " entries, the closest first.") :
        "Nothing holds all of these words; the nearest.";
      list.className = "plain";
      told.hits.forEach(function (hit) {
        var item = document.createElement("li"), link = document.createElement("a"), kind = document.createElement("span");
        link.href = root + hit[3][0];
        link.textContent = hit[3][1];
        kind.className = "soft";
        kind.textContent = " " + hit[3][2];
        item.append(link, kind);
        list.append(item);
      });
      document.getElementById("main").append(line, list);
    }
  }
})();
