// Choosing from the shelf fills the entries below; they stay open to be typed over.

import { form } from "./talk.js";

export function watchShelf(changed) {
  const slots = [...document.querySelectorAll("[data-fills]")];
  for (const slot of slots) {
    slot.addEventListener("change", () => {
      const rotor = slots[0].selectedOptions[0].value ? slots[0].selectedOptions[0].text : null;
      for (const { value } of slots) {
        if (value) fill(JSON.parse(value), rotor);
      }
      changed();
    });
  }
}

// A tube hangs at another radius in each rotor: what is filled in is what the chosen rotor makes of it.
function fill(byRotor, rotor) {
  const entries = byRotor[rotor] ?? Object.values(byRotor)[0];
  for (const [name, value] of Object.entries(entries)) form().elements.namedItem(name).value = value;
}
