// Runs inside a copy of report.html: tries the page's own script, then says what is wrong in an element named checked.
window.addEventListener("load", function () {
  "use strict";
  var wrong = window.wrong || [];
  var all = function (query, within) { return Array.prototype.slice.call((within || document).querySelectorAll(query)); };
  var say = function (what, element) { wrong.push(what + ": " + (element ? element.outerHTML.slice(0, 160) : "")); };
  function sorting() {
    all("table.sortable").slice(0, 40).forEach(function (table) {
      var before = table.tBodies[0].rows.length;
      all("th button", table.tHead).forEach(function (button) { button.click(); });
      if (table.tBodies[0].rows.length !== before) { say("rows lost by sorting", table); }
      if (!table.querySelector("th[aria-sort]")) { say("a table does not sort", table); }
    });
  }
  function filtering() {
    var box = document.querySelector(".filter input"), table = document.querySelector(".filter + table.sortable");
    if (!box || !table) { return say("no table can be filtered"); }
    box.value = "no such row"; box.dispatchEvent(new Event("input"));
    if (all("tbody tr", table).some(function (row) { return !row.hidden; })) { say("a filter leaves rows", table); }
    box.value = ""; box.dispatchEvent(new Event("input"));
    if (all("tbody tr", table).some(function (row) { return row.hidden; })) { say("an empty filter hides rows", table); }
  }
  function maps() {
    var tip = document.getElementById("tip"), shown = all("svg.map use");
    if (!shown.length) { return say("no map in the page"); }
    shown.slice(0, 20).forEach(function (area) {
      area.dispatchEvent(new Event("focus"));
      if (tip.hidden || tip.textContent !== area.getAttribute("aria-label") || !tip.textContent) { say("an area tells nothing on focus", area); }
      area.dispatchEvent(new Event("blur"));
    });
    shown.forEach(function (area) {
      var box = area.getBoundingClientRect();
      if (!(box.width > 0 && box.height > 0)) { say("an area is not drawn", area); }
    });
  }
  function width() {
    var room = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > room) { say("the page is wider than the " + room + " pixels it has"); }
    if (!window.paper) { return; }
    all("table, figure, .spread, td, th, p, li, dd, summary").forEach(function (element) {
      var box = element.getBoundingClientRect();
      if (element.className === "sr" || !box.width) { return; }
      if (box.right > room + 1 || (!element.matches(".scale") && element.scrollWidth > element.clientWidth + 1)) { say("cut on paper", element); }
    });
    all("details").forEach(function (part) {
      if (part.lastElementChild.getBoundingClientRect().height < 1) { say("folded on paper", part); }
    });
  }
  function done() {
    performance.getEntriesByType("resource").forEach(function (entry) { wrong.push("asked for " + entry.name); });
    var out = document.createElement("pre");
    out.id = "checked";
    out.textContent = "width " + document.documentElement.clientWidth + "; wrong " + wrong.length + "\n" + wrong.slice(0, 20).join("\n");
    document.body.appendChild(out);
  }
  width();
  sorting();
  filtering();
  maps();
  if (!window.axe) { return done(); }
  window.axe.run(document, { resultTypes: ["violations"] }).then(function (found) {
    found.violations.forEach(function (v) { wrong.push("axe " + v.id + ", " + v.nodes.length + " times, such as " + v.nodes[0].html.slice(0, 160)); });
    done();
  }, function (fault) { wrong.push("axe failed: " + fault); done(); });
});
