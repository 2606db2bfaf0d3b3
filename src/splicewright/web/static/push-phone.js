// Telling this phone: the browser asks its push service for a place, the form takes that along.
// What somebody wished on this phone goes on by itself when they are in again.
"use strict";

(() => {
  const form = document.getElementById("push");
  const account = document.querySelector('meta[name="account"]').content;
  const csrf = { "X-CSRF": document.querySelector('meta[name="csrf"]').content };
  const WISH = "push wish";
  let ready = false;

  function wish() {
    try {
      const kept = JSON.parse(localStorage.getItem(WISH));
      return kept?.account === account ? kept.kinds : [];
    } catch {
      return []; // this browser keeps nothing
    }
  }

  function keepWish(kinds) {
    try {
      if (kinds.length) localStorage.setItem(WISH, JSON.stringify({ account, kinds }));
      else localStorage.removeItem(WISH);
    } catch { /* asked anew after the next sign-in */ }
  }

  const bytes = (text) =>
    Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
  const same = (one, other) => one.length === other.length && one.every((b, i) => b === other[i]);

  async function serverKey() {
    const answer = await fetch("/me/push/key", { method: "POST", headers: { Accept: "application/json", ...csrf } });
    const reply = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(reply.error?.[0]?.sentence || "the server did not answer: reload the page");
    return bytes(reply.key);
  }

  // A place that was asked for under another key of the server reaches nobody.
  async function place() {
    const { pushManager } = await navigator.serviceWorker.ready;
    const applicationServerKey = await serverKey();
    const there = await pushManager.getSubscription();
    const under = there?.options?.applicationServerKey;
    if (there && under && same(new Uint8Array(under), applicationServerKey)) return there;
    await there?.unsubscribe();
    return pushManager.subscribe({ userVisibleOnly: true, applicationServerKey });
  }

  // The session in which it was asked is over: the same for this one, without a word.
  async function again() {
    const kinds = wish();
    if (!kinds.length || window.Notification?.permission !== "granted" || !window.PushManager) return;
    const { endpoint, keys } = (await place()).toJSON();
    const body = new URLSearchParams({ endpoint, ...keys });
    kinds.forEach((kind) => body.append("kinds", kind));
    await fetch("/me/push", { method: "POST", headers: csrf, body, redirect: "manual" });
    document.documentElement.dataset.told = "again";
  }

  async function withdrawn() {
    const registration = await navigator.serviceWorker?.getRegistration("/");
    await (await registration?.pushManager?.getSubscription())?.unsubscribe();
  }

  function why(error) {
    if (Notification.permission === "denied") {
      return "This phone does not let the app tell you anything: allow notifications for it in the browser's settings.";
    }
    if (error.name === "AbortError") return "The phone's push service did not answer. Try again with signal.";
    return `This phone is not told: ${error.message}`;
  }

  if (document.querySelector("[data-told=no]")) again().catch(() => {}); // with the next page
  form?.addEventListener("submit", async (event) => {
    if (ready) return;
    event.preventDefault();
    const status = form.querySelector("[role=status]");
    const kinds = [...form.querySelectorAll("[name=kinds]:checked")].map((box) => box.value);
    const wanted = kinds.length;
    if (wanted && !(window.PushManager && window.Notification && navigator.serviceWorker)) {
      status.textContent = "This browser cannot be told anything while the app is closed. On some phones it can once the app is put on the home screen.";
      return;
    }
    status.textContent = "Waiting for the phone.";
    try {
      if (wanted) {
        await Notification.requestPermission();
        const { endpoint, keys } = (await place()).toJSON();
        Object.entries({ endpoint, ...keys }).forEach(([name, value]) => {
          if (form.elements[name]) form.elements[name].value = value;
        });
      } else {
        await withdrawn();
      }
      keepWish(kinds);
      ready = true;
      form.requestSubmit();
    } catch (error) {
      status.textContent = why(error);
    }
  });
})();
