"use strict";

// Draws the reference from the service's own OpenAPI document; nothing comes from another host.
const place = document.getElementById("reference");
SwaggerUIBundle({
  url: place.dataset.schema,
  domNode: place,
  deepLinking: true,
  docExpansion: "none",
  filter: true,
  tryItOutEnabled: false,
  persistAuthorization: false,
  validatorUrl: null,
  presets: [SwaggerUIBundle.presets.apis],
});
