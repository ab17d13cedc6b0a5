// One key moves the run: a pedal or page-turner, a key, or a scanner, which types fast and ends with Enter.

const BOUNCE_MS = 400;
const SCANNED_WITHIN_MS = 80; // from one letter to the next; no hand types so
const PEDAL = new Set(["PageDown", "ArrowRight"]);
const BY_HAND = new Set(["Enter", " "]);
const CODE = /^[A-Z0-9]{8}$/;
const COMMANDS = { PWNEXT: "next", PWREDSEEN: "red seen", PWDIFFERS: "differs", PWSTOP: "stop" };
const TYPED_INTO = "input:not([type=checkbox], [type=radio], [type=button], [type=submit]), textarea, select, [contenteditable]";

// hands: { next(), redSeen(), differs(), stop(), scanned(text) }
export function watchKeys(hands) {
  const orders = { next: hands.next, "red seen": hands.redSeen, differs: hands.differs, stop: hands.stop };
  let typed = "";
  let typed_at = 0;
  let before = ""; // what stood in a field before something was scanned into it
  let pressed_at = -Infinity;

  // A key held down, or one that bounces, counts once.
  const counts = (event) => {
    const since = event.timeStamp - pressed_at;
    pressed_at = event.timeStamp;
    return !event.repeat && since > BOUNCE_MS;
  };

  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const field = event.target.closest?.(TYPED_INTO) ?? null;
    if (event.key.length === 1 && event.key !== " ") {
      if (event.timeStamp - typed_at > SCANNED_WITHIN_MS) {
        typed = "";
        before = field?.value ?? "";
      }
      typed += event.key;
      typed_at = event.timeStamp;
      return;
    }
    if (event.key === "Enter" && event.timeStamp - typed_at <= SCANNED_WITHIN_MS && isScan(typed, field)) {
      event.preventDefault();
      event.stopPropagation();
      if (field) field.value = before;
      read(typed, event.timeStamp);
      typed = "";
      return;
    }
    if (isPrimary(event, field)) {
      event.preventDefault();
      if (counts(event)) hands.next(event.timeStamp);
    }
  }, { capture: true });

  function read(text, at) {
    const order = COMMANDS[text.toUpperCase().replace(/[^A-Z]/g, "")];
    if (order) orders[order](at);
    else hands.scanned(text.toUpperCase());
  }
}

// In a field a number is typed faster than one thinks: there only what stands on a label or on the card is a scan.
function isScan(text, field) {
  if (!field) return text.length >= 4;
  return CODE.test(text.toUpperCase()) || text.toUpperCase().replace(/[^A-Z]/g, "") in COMMANDS;
}

function isPrimary(event, field) {
  if (document.querySelector("dialog[open]")) return false;
  if (event.key === "PageDown") return !event.target.closest?.("textarea, select");
  const has = document.activeElement;
  const nothing = !has || has === document.body || has.matches("main, #step, [data-primary]");
  return !field && nothing && (PEDAL.has(event.key) || BY_HAND.has(event.key));
}
