"use strict";
// Nothing leaves this service: no validator elsewhere is asked.
SwaggerUIBundle({ url: "/openapi.json", dom_id: "#document", validatorUrl: null, deepLinking: true, docExpansion: "list" });
