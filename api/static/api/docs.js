"use strict";

// A file of its own, because the content policy of the site allows no script inside a page.
const place = document.getElementById("docs");

SwaggerUIBundle({
  url: place.dataset.schemaUrl,
  dom_id: "#docs",
  presets: [SwaggerUIBundle.presets.apis],
  layout: "BaseLayout",
  deepLinking: true,
  // no other host is asked to check the description
  validatorUrl: null,
});
