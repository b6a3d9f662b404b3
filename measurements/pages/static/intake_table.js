/* The table of an intake: a row per file, filled from names and manifests, made for the keyboard. */
"use strict";

(function () {
  const COLUMNS = ["tag", "new_device", "contributor", "kind", "method", "role", "ratio", "load_ohm", "series_ohm", "design", "measured_on"];
  const CARRIED = ["calibrated", "partner"]; // columns of a manifest that the table does not show
  const LACKING = { tag: "tag", contributor: "who brought it", kind: "test" }; // what the server asks every test for

  function build(form, onCount) {
    const place = form.querySelector("[data-table-place]");
    const body = place.querySelector("tbody");
    const pattern = place.querySelector("template[data-row]").content;
    const known = new Map(JSON.parse(form.dataset.tagsHere)); // tag -> its owners tonight, in lower case
    const rows = []; // {name, file, element, cells: {column: input}, lacks: [columns], fresh: may be a new device}
    let made = 0; // rows that were ever made
    let last = null; // the cell that was in use last, for the buttons

    function cell(at, column) {
      return rows[at] && rows[at].cells[column];
    }

    function unknownChoice(input, value) {
      const known = Array.from(input.options).some(function (option) {
        return option.value === value;
      });
      if (!known) input.add(new Option(value + " (unknown)", value));
    }

    /* A tick is yes. Without one a tag that a person wrote speaks for itself, and one from a name asks. */
    function read(row, column) {
      const input = row.cells[column];
      if (column !== "new_device") return input.disabled ? "" : input.value.trim();
      return input.checked ? "yes" : row.guessed ? "no" : "";
    }

    function write(input, value) {
      if (input.type === "checkbox") {
        input.checked = value === "yes";
        return;
      }
      if (input.tagName === "SELECT") unknownChoice(input, value);
      input.value = value;
    }

    function put(input, value) {
      write(input, value);
      input.closest("tr").dispatchEvent(new Event("change", { bubbles: true }));
    }

    function text(row, column) {
      return row.cells[column].value.trim();
    }

    /* What this line would come back for. A tag that one person brought tonight says whose it is; a device that is
       not on the night's list may be registered elsewhere, so that its design is only asked for. */
    function judge(row) {
      row.cells.method.disabled = row.cells.kind.value !== "insertion_loss";
      const owners = known.get(text(row, "tag").toLowerCase()) || [];
      const who = text(row, "contributor").toLowerCase();
      row.lacks = Object.keys(LACKING).filter(function (column) {
        return !text(row, column) && !(column === "contributor" && owners.length === 1);
      });
      const listed = who ? owners.includes(who) : owners.length === 1;
      row.isNew = Boolean(text(row, "tag")) && !listed;
      row.cells.new_device.disabled = !row.isNew;
      row.fresh = row.isNew && !text(row, "design");
      const certain = document.createElement("strong");
      certain.textContent = row.lacks.map(function (column) {
        return LACKING[column];
      }).join(", ");
      const between = row.lacks.length && row.fresh ? "; " : "";
      row.missing.replaceChildren(certain, between + (row.fresh ? "design, if the device is new" : ""));
      Object.keys(LACKING).forEach(function (column) {
        mark(row, column, row.lacks.includes(column));
      });
      mark(row, "design", row.fresh, false);
    }

    function mark(row, column, isMissing, isFault = isMissing) {
      const input = row.cells[column];
      input.classList.toggle("is-missing", isMissing);
      if (isFault) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
      if (isMissing) input.setAttribute("aria-describedby", row.missing.id);
      else input.removeAttribute("aria-describedby");
    }

    function lacking() {
      return rows.filter(function (row) {
        return row.lacks.length;
      });
    }

    function count() {
      const short = lacking().length;
      place.hidden = rows.length === 0;
      place.querySelector("table").classList.toggle("with-missing", rows.some(function (row) {
        return row.lacks.length || row.fresh;
      }));
      place.querySelector("[data-count]").textContent =
        rows.length + (rows.length === 1 ? " file" : " files") +
        (short ? ", " + short + " with something missing" : "");
      onCount();
    }

    /* One value for every line that has none in this column and asks for it. Answers how many took it. */
    function fillEmpty(column, value) {
      const empty = rows.filter(function (row) {
        return row.cells[column].classList.contains("is-missing") && !text(row, column);
      });
      empty.forEach(function (row) {
        row.cells[column].value = value;
      });
      rows.forEach(judge);
      count();
      return empty.length;
    }

    function showMore(shown) {
      place.querySelector("[data-more]").checked = shown;
      place.querySelector("table").classList.toggle("with-more", shown);
    }

    function named(name) {
      return rows.find(function (row) {
        return row.name.toLowerCase() === name.toLowerCase();
      });
    }

    /* The server tells names apart without regard to case: a name that is taken gets a number. */
    function numbered(name, number) {
      return number === 1 ? name : name.replace(/(\.[^.]*)?$/, "-" + number + "$1");
    }

    /* Adds a file. `how` says whether it is new, here already, in the place of one that was saved anew on the
       disk, or beside another of its name. */
    async function take(name, file, path) {
      let number = 1;
      for (let row = named(name); row; row = named(numbered(name, number))) {
        const same = await window.Benchnight.filesAlike(row.file, file);
        if (same) return { name: row.name, how: "here" };
        if (same === null) {
          row.file = file;
          return { name: row.name, how: "anew" };
        }
        number += 1;
      }
      add(numbered(name, number), file, path);
      return { name: numbered(name, number), how: number === 1 ? "new" : "beside" };
    }

    function add(name, file, path) {
      const element = pattern.cloneNode(true).querySelector("tr");
      element.querySelector("th").textContent = name;
      const row = { name: name, path: path, file: file, element: element, cells: {}, carried: {}, lacks: [], guessed: true };
      row.missing = element.querySelector("[data-missing]");
      row.missing.id = "missing-" + (made += 1);
      row.at = made;
      COLUMNS.forEach(function (column) {
        row.cells[column] = element.querySelector('[data-column="' + column + '"]');
        row.cells[column].setAttribute("aria-label", row.cells[column].getAttribute("aria-label") + " of " + name);
      });
      element.querySelector("[data-leave-out]").setAttribute("aria-label", "Leave out " + name);
      rows.push(row);
      body.append(element);
      judge(row);
    }

    /* lines: of a manifest. Empty cells of a line never wipe out what was typed. */
    function fill(lines) {
      const byName = new Map(
        lines.map(function (line) {
          return [line.file, line];
        })
      );
      rows.forEach(function (row) {
        const line = byName.get(row.name);
        if (!line) return;
        if (!line.guessed && line.tag && line.new_device !== "no") row.guessed = false;
        COLUMNS.forEach(function (column) {
          const written = column !== "new_device" && row.cells[column].value.trim();
          if (line[column] && !(line.guessed && written && column !== "role")) write(row.cells[column], line[column]);
        });
        CARRIED.forEach(function (column) {
          if (line[column]) row.carried[column] = line[column];
        });
        judge(row);
      });
      count();
    }

    function lines() {
      return rows.map(function (row) {
        const line = Object.assign({ file: row.name }, row.carried);
        COLUMNS.forEach(function (column) {
          line[column] = read(row, column);
        });
        return line;
      });
    }

    function where(target) {
      const at = rows.findIndex(function (row) {
        return row.element.contains(target);
      });
      return { at: at, column: target.dataset.column };
    }

    function go(at, column) {
      const next = cell(at, column);
      if (!next) return;
      next.focus();
      if (next.select) next.select();
    }

    function copyAbove(at, column) {
      if (at > 0) put(cell(at, column), valueOf(cell(at - 1, column)));
    }

    function valueOf(input) {
      return input.type === "checkbox" ? (input.checked ? "yes" : "") : input.value;
    }

    /* Folders were called something else: what they said so far is taken back, what was typed stays. */
    function forget(columns) {
      rows.forEach(function (row) {
        if (!row.path.includes("/")) return;
        columns.forEach(function (column) {
          row.cells[column].value = "";
        });
        judge(row);
      });
    }

    function show() {
      const wanted = place.querySelector("[data-filter]").value.trim().toLowerCase();
      const onlyMissing = place.querySelector("[data-filter-missing]").checked;
      rows.forEach(function (row) {
        const said = [row.name, text(row, "tag"), text(row, "contributor")].join(" ").toLowerCase();
        const open = row.lacks.length || row.isNew;
        row.element.hidden = !said.includes(wanted) || (onlyMissing && !open);
      });
    }

    function sort(by) {
      const keyOf = function (row) {
        return by === "" ? row.at : (by === "file" ? row.name : text(row, by)).toLowerCase();
      };
      rows.sort(function (one, other) {
        const a = keyOf(one);
        const b = keyOf(other);
        return a < b ? -1 : a > b ? 1 : one.at - other.at;
      });
      body.append(...rows.map(function (row) {
        return row.element;
      }));
    }

    function fillDown(at, column) {
      const value = valueOf(cell(at, column));
      rows.slice(at + 1).forEach(function (row) {
        if (!row.cells[column].disabled && !row.element.hidden) put(row.cells[column], value);
      });
    }

    /* A new device has one tick: for every file of its tag and owner. */
    function tickAlike(row) {
      const same = function (each, column) {
        return text(each, column).toLowerCase() === text(row, column).toLowerCase();
      };
      rows.forEach(function (each) {
        if (same(each, "tag") && same(each, "contributor")) each.cells.new_device.checked = row.cells.new_device.checked;
      });
    }

    body.addEventListener("keydown", function (event) {
      if (!event.target.dataset.column || event.altKey) return;
      const { at, column } = where(event.target);
      const down = event.key === "ArrowDown" || (event.key === "Enter" && !event.shiftKey);
      const up = event.key === "ArrowUp" || (event.key === "Enter" && event.shiftKey);
      const copy = (event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "d";
      if (down) go(at + 1, column);
      else if (up) go(at - 1, column);
      else if (copy && event.shiftKey) fillDown(at, column);
      else if (copy) {
        copyAbove(at, column);
        go(at + 1, column);
      } else return;
      event.preventDefault();
    });
    body.addEventListener("focusin", function (event) {
      if (event.target.dataset.column) last = where(event.target);
    });
    body.addEventListener("change", function (event) {
      const row = rows.find(function (each) {
        return each.element.contains(event.target);
      });
      if (event.target.dataset.column === "new_device") tickAlike(row);
      judge(row);
      count();
    });
    body.addEventListener("click", function (event) {
      if (!event.target.matches("[data-leave-out]")) return;
      const { at } = where(event.target);
      rows.splice(at, 1)[0].element.remove();
      last = null;
      count();
      const next = cell(Math.min(at, rows.length - 1), "tag");
      if (next) next.focus();
    });
    place.querySelector("[data-copy-above]").addEventListener("click", function () {
      if (last) copyAbove(last.at, last.column);
    });
    place.querySelector("[data-fill-down]").addEventListener("click", function () {
      if (last) fillDown(last.at, last.column);
    });
    ["[data-filter]", "[data-filter-missing]"].forEach(function (name) {
      place.querySelector(name).addEventListener("input", show);
    });
    place.querySelector("[data-sort]").addEventListener("change", function (event) {
      sort(event.target.value);
    });
    place.querySelector("[data-more]").addEventListener("change", function (event) {
      showMore(event.target.checked);
    });
    const forAll = place.querySelectorAll("[data-for-all]");
    const filled = place.querySelector("[data-filled]");
    function fillAll() {
      const said = Array.from(forAll).filter(function (input) {
        return input.value.trim();
      }).map(function (input) {
        const column = input.dataset.forAll;
        const lines = fillEmpty(column, input.value.trim());
        if (column === "design") showMore(true);
        return input.dataset.said + " in " + lines + (lines === 1 ? " line" : " lines");
      });
      filled.textContent = said.length ? "Filled in: " + said.join(", ") + "." : "Say first who brought them, or their design.";
    }
    place.querySelector("[data-fill-all]").addEventListener("click", fillAll);
    forAll.forEach(function (input) {
      input.addEventListener("keydown", function (event) {
        if (event.key !== "Enter") return;
        event.preventDefault(); // this is not the button that hands in
        fillAll();
      });
    });

    return {
      rows: rows,
      take: take,
      fill: fill,
      forget: forget,
      lines: lines,
      count: count,
      lacking: lacking,
      text: function (some) {
        return window.Benchnight.csvText(["file", ...COLUMNS, ...CARRIED], some || lines());
      },
    };
  }

  window.Benchnight = Object.assign(window.Benchnight || {}, { intakeTable: build });
})();
