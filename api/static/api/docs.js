"use strict";

// Authorize and Try it on the page of the API's description. The token stays in this variable: no storage,
// no cookie, no address holds it.
(function () {
  let token = "";
  const MOST_CHARACTERS = 20000;
  const form = document.getElementById("authorize-form");
  const field = document.getElementById("token");
  const state = document.getElementById("authorize-state");
  const forget = document.getElementById("forget");

  function ask(address, given) {
    const headers = given ? { Authorization: "Bearer " + given } : {};
    return fetch(address, { headers: headers, credentials: "omit", cache: "no-store" });
  }

  async function authorize(event) {
    event.preventDefault();
    const given = field.value.trim();
    if (!given) return;
    const answer = await ask(form.dataset.checkUrl, given);
    if (answer.ok) {
      token = given;
      field.value = "";
      forget.hidden = false;
      state.textContent = "Authorized. What you try below goes out with this token.";
    } else {
      state.textContent = (await answer.json()).detail;
    }
  }

  function forgetToken() {
    token = "";
    forget.hidden = true;
    state.textContent = "The token is forgotten.";
    field.focus();
  }

  function buildAddress(each) {
    let path = each.dataset.path;
    const words = new URLSearchParams();
    for (const input of each.querySelectorAll("input")) {
      const value = input.value.trim();
      if (input.dataset.place === "path") {
        path = path.replace("{" + input.name + "}", encodeURIComponent(value));
      } else if (value) {
        words.append(input.name, value);
      }
    }
    return words.size ? path + "?" + words : path;
  }

  function findPlace(each) {
    const known = each.nextElementSibling;
    if (known) return known;
    const made = document.createElement("pre");
    made.className = "reply";
    made.tabIndex = 0;
    made.setAttribute("role", "region");
    made.setAttribute("aria-label", "Reply of GET " + each.dataset.path);
    each.after(made);
    return made;
  }

  async function tryIt(event) {
    event.preventDefault();
    const each = event.currentTarget;
    const address = buildAddress(each);
    const place = findPlace(each);
    place.textContent = "GET " + address;
    const answer = await ask(address, token);
    const type = answer.headers.get("Content-Type") || "";
    const isText = /json|text|yaml|openapi|svg/.test(type);
    let said = isText ? await answer.text() : "(" + (await answer.blob()).size + " bytes)";
    if (type.includes("json") && !type.includes("ndjson")) said = JSON.stringify(JSON.parse(said), null, 2);
    const cut = said.length > MOST_CHARACTERS ? said.slice(0, MOST_CHARACTERS) + "\n… cut off here" : said;
    place.textContent = "GET " + address + "\n" + answer.status + " " + type + "\n\n" + cut;
  }

  function openTarget() {
    const target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    if (target && target.tagName === "DETAILS") target.open = true;
  }

  form.hidden = false;
  form.addEventListener("submit", authorize);
  forget.addEventListener("click", forgetToken);
  for (const each of document.querySelectorAll("form.try")) {
    each.hidden = false;
    each.addEventListener("submit", tryIt);
  }
  window.addEventListener("hashchange", openTarget);
  openTarget();
})();
