/* Manifests as text: RFC 4180, with comma, semicolon or tab between the cells. */
"use strict";

(function () {
  function separatorOf(text) {
    const head = text.slice(0, (text + "\n").indexOf("\n"));
    return [",", ";", "\t"].sort(function (a, b) {
      return head.split(b).length - head.split(a).length;
    })[0];
  }

  function rows(text) {
    const plain = text.replace(/^\uFEFF/, "");
    const separator = separatorOf(plain);
    const found = [];
    let row = [];
    let cell = "";
    let quoted = false;
    for (let at = 0; at < plain.length; at += 1) {
      const char = plain[at];
      if (quoted) {
        if (char !== '"') cell += char;
        else if (plain[at + 1] === '"') {
          cell += char;
          at += 1;
        } else quoted = false;
      } else if (char === '"' && cell === "") quoted = true;
      else if (char === separator) {
        row.push(cell);
        cell = "";
      } else if (char === "\n") {
        row.push(cell.replace(/\r$/, ""));
        found.push(row);
        row = [];
        cell = "";
      } else cell += char;
    }
    if (cell || row.length) found.push([...row, cell]);
    return found.filter(function (each) {
      return each.some(function (text) {
        return text.trim();
      });
    });
  }

  /* Lines as objects by the names of the header; null where the first line is no manifest's header. */
  function records(text) {
    const all = rows(text);
    if (!all.length) return null;
    const names = all[0].map(function (name) {
      return name.trim().toLowerCase();
    });
    if (!names.includes("file") || !(names.includes("tag") || names.includes("kind"))) return null;
    return all.slice(1).map(function (cells) {
      const record = Object.create(null); // names come out of a file: `__proto__` is one like the others
      names.forEach(function (name, at) {
        // a leading apostrophe keeps a spreadsheet from taking a text for a formula
        record[name] = (cells[at] || "").trim().replace(/^'/, "");
      });
      return record;
    });
  }

  function cellText(given) {
    const text = /^[=+\-@]/.test(given) ? "'" + given : given;
    return /[",;\t\r\n]|^\s|\s$/.test(text) ? '"' + text.replaceAll('"', '""') + '"' : text;
  }

  function write(columns, lines) {
    const table = [
      columns,
      ...lines.map(function (line) {
        return columns.map(function (name) {
          return line[name] || "";
        });
      }),
    ];
    return (
      table
        .map(function (row) {
          return row.map(cellText).join(",");
        })
        .join("\r\n") + "\r\n"
    );
  }

  window.Benchnight = Object.assign(window.Benchnight || {}, { csvRecords: records, csvText: write });
})();
