// Passkeys: a form asks for options, the browser makes or signs, the form is sent with what came.
"use strict";

(() => {
  const bytes = (text) =>
    Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
  const text = (buffer) =>
    btoa(String.fromCharCode(...new Uint8Array(buffer)))
      .replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  const listed = (list) => (list || []).map((one) => ({ ...one, id: bytes(one.id) }));

  async function asked(form) {
    const headers = { Accept: "application/json" };
    const csrf = document.querySelector('meta[name="csrf"]');
    if (csrf) headers["X-CSRF"] = csrf.content;
    const answer = await fetch(form.dataset.options, {
      method: "POST", headers, body: new URLSearchParams(new FormData(form)),
    });
    const reply = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(reply.refusal || "The server did not answer: reload the page.");
    return reply;
  }

  async function created(options) {
    const publicKey = {
      ...options, challenge: bytes(options.challenge),
      user: { ...options.user, id: bytes(options.user.id) },
      excludeCredentials: listed(options.excludeCredentials),
    };
    const key = await navigator.credentials.create({ publicKey });
    return {
      id: key.id, rawId: text(key.rawId), type: key.type,
      response: {
        clientDataJSON: text(key.response.clientDataJSON),
        attestationObject: text(key.response.attestationObject),
      },
    };
  }

  async function signed(options) {
    const publicKey = {
      ...options, challenge: bytes(options.challenge),
      allowCredentials: listed(options.allowCredentials),
    };
    const key = await navigator.credentials.get({ publicKey });
    const { clientDataJSON, authenticatorData, signature, userHandle } = key.response;
    return {
      id: key.id, rawId: text(key.rawId), type: key.type,
      response: {
        clientDataJSON: text(clientDataJSON), authenticatorData: text(authenticatorData),
        signature: text(signature), userHandle: userHandle ? text(userHandle) : null,
      },
    };
  }

  function why(error) {
    if (error.name === "InvalidStateError") return "This phone or key holds a passkey of yours already.";
    if (error.name === "NotAllowedError") return "No passkey was given: it was cancelled, took too long, or is not on this device.";
    return error.message;
  }

  for (const form of document.querySelectorAll("form[data-passkey]")) {
    const status = form.querySelector("[role=status]");
    const field = form.elements.namedItem("passkey");
    form.addEventListener("submit", async (event) => {
      if (field.value) return;
      event.preventDefault();
      if (!window.PublicKeyCredential) {
        status.textContent = "This browser knows no passkeys at this address: use an app for codes.";
        return;
      }
      status.textContent = "Waiting for the passkey.";
      try {
        const work = form.dataset.passkey === "add" ? created : signed;
        field.value = JSON.stringify(await work(await asked(form)));
        status.textContent = "";
        form.submit();
      } catch (error) {
        status.textContent = why(error);
      }
    });
  }
})();
