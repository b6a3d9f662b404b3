/* Collects what was dropped or chosen: files, whole folders, zips, a manifest. */
"use strict";

(function () {
  const IGNORED = /(^|\/)(\.|__MACOSX|Thumbs\.db$|desktop\.ini$)/i;

  function entriesOf(reader) {
    return new Promise(function (resolve, reject) {
      reader.readEntries(resolve, reject);
    });
  }

  function fileOf(entry) {
    return new Promise(function (resolve, reject) {
      entry.file(resolve, reject);
    });
  }

  async function walk(entry, found) {
    if (entry.isFile) {
      found.push({ path: entry.fullPath.replace(/^\//, ""), file: await fileOf(entry) });
      return;
    }
    const reader = entry.createReader();
    // a reader hands a folder out in parts, the last one empty
    for (let part = await entriesOf(reader); part.length; part = await entriesOf(reader)) {
      for (const each of part) await walk(each, found);
    }
  }

  async function dropped(transfer) {
    // both are asked for before anything is awaited: afterwards the browser has let go of the items
    const items = Array.from(transfer.items).filter(function (item) {
      return item.kind === "file";
    });
    const taken = items.map(function (item) {
      return { entry: item.webkitGetAsEntry(), file: item.getAsFile() };
    });
    const found = [];
    for (const each of taken) {
      if (each.entry) await walk(each.entry, found);
      else if (each.file) found.push({ path: each.file.name, file: each.file });
    }
    return found;
  }

  function chosen(input) {
    return Array.from(input.files, function (file) {
      return { path: file.webkitRelativePath || file.name, file: file };
    });
  }

  /* A name that says the folders below the one that was handed in: "C-7/open.s1p" is "C-7_open.s1p". */
  function flatName(path) {
    const parts = path.split("/");
    return (parts.length > 2 ? parts.slice(1) : parts.slice(-1)).join("_");
  }

  /* Whether two files hold the same bytes. Null where the first cannot be read any more: it changed on the disk. */
  async function alike(before, now) {
    let held;
    try {
      held = new Uint8Array(await before.arrayBuffer());
    } catch (error) {
      if (error.name === "NotReadableError" || error.name === "NotFoundError") return null;
      throw error;
    }
    const come = new Uint8Array(await now.arrayBuffer());
    return (
      held.length === come.length &&
      held.every(function (byte, at) {
        return byte === come[at];
      })
    );
  }

  async function manifestOf(file) {
    if (!/\.(csv|txt|tsv)$/i.test(file.name) || file.size > 2000000) return null;
    return window.Benchnight.csvRecords(await file.text());
  }

  /* Sorts found files into sweeps, zips and lines of manifests. */
  async function sorted(found) {
    const kept = { sweeps: [], zips: [], lines: [] };
    for (const each of found) {
      if (IGNORED.test(each.path)) continue;
      if (/\.zip$/i.test(each.path)) {
        kept.zips.push(each.file);
        continue;
      }
      const lines = await manifestOf(each.file);
      if (lines) kept.lines.push(...lines);
      else kept.sweeps.push({ name: flatName(each.path), path: each.path, file: each.file });
    }
    return kept;
  }

  window.Benchnight = Object.assign(window.Benchnight || {}, {
    filesDropped: dropped,
    filesChosen: chosen,
    filesSorted: sorted,
    filesAlike: alike,
  });
})();
