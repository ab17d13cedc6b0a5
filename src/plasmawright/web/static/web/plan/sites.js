// Rows of sites: added, taken away, and numbered anew each time.

const rows = () => [...document.querySelectorAll("#sites [data-site]")];

export function watchSites(changed) {
  document.getElementById("sites").addEventListener("click", (event) => {
    if (event.target.closest("#add-site")) rows().length && addSite().querySelector("input").focus();
    else if (event.target.closest("[data-remove-site]")) removeSite(event.target.closest("[data-site]"), changed);
  });
  renumber();
}

export function addSite() {
  const blank = document.getElementById("blank-site").content.firstElementChild.cloneNode(true);
  document.getElementById("add-site").before(blank);
  renumber();
  return blank;
}

function removeSite(row, changed) {
  row.remove();
  if (!rows().length) addSite();
  renumber();
  document.getElementById("sites-title").focus();
  changed();
}

function renumber() {
  rows().forEach((row, place) => {
    for (const shown of row.querySelectorAll("[data-number]")) shown.textContent = place + 1;
    for (const entry of row.querySelectorAll("input, select")) {
      entry.name = entry.name.replace(/^sites\.\d+/, `sites.${place}`);
    }
    for (const part of row.querySelectorAll("[id], [for], [aria-describedby]")) {
      for (const name of ["id", "for", "aria-describedby"]) {
        const value = part.getAttribute(name);
        if (value) part.setAttribute(name, value.replace(/sites-\d+/g, `sites-${place}`));
      }
    }
    row.querySelector("[data-remove-site]").hidden = rows().length === 1;
  });
}
