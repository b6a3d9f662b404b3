// Asks the browser for a passkey, or for a new one, and sends its reply with the form. Without it a code does.
"use strict";

(() => {
  const form = document.querySelector("form[data-passkey]");
  if (!form || !window.PublicKeyCredential) return;
  const start = form.querySelector("[data-passkey-start]");
  const fault = form.querySelector("[data-passkey-fault]");

  const toBytes = (text) => {
    const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
    return Uint8Array.from(plain, (char) => char.charCodeAt(0));
  };
  const toText = (buffer) => {
    const plain = Array.from(new Uint8Array(buffer), (byte) => String.fromCharCode(byte)).join("");
    return btoa(plain).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
  };
  const readOptions = () => {
    const options = JSON.parse(form.dataset.options);
    options.challenge = toBytes(options.challenge);
    if (options.user) options.user.id = toBytes(options.user.id);
    for (const list of [options.allowCredentials, options.excludeCredentials]) {
      for (const each of list || []) each.id = toBytes(each.id);
    }
    return options;
  };
  const describe = (credential) => {
    const response = {};
    for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
      if (credential.response[name]) response[name] = toText(credential.response[name]);
    }
    return { id: credential.id, rawId: toText(credential.rawId), type: credential.type, response,
      clientExtensionResults: {} };
  };

  start.hidden = false;
  for (const note of form.querySelectorAll("[data-passkey-missing]")) note.hidden = true;
  start.addEventListener("click", async () => {
    fault.hidden = true;
    try {
      const credential = await navigator.credentials[form.dataset.passkey]({ publicKey: readOptions() });
      form.querySelector("[data-passkey-reply]").value = JSON.stringify(describe(credential));
    } catch {
      // the person pressed Cancel, or took too long; the browser does not say which
      fault.hidden = false;
      return;
    }
    form.submit();
  });
})();
