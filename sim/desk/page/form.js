// Every key of the case, as rows that can be typed into; what is wrong stands beside its key.

export class Form {
  // typed(row, text): a key has a new text; entry(group, what): an entry of a list is copied or taken out.
  constructor(parent, find, typed, entry) {
    Object.assign(this, { parent, typed, entry, rows: new Map(), open: new Set() });
    find.addEventListener("input", () => this.filter(find.value));
    this.find = find;
  }

  fill(groups) {
    this.rows.clear();
    const had = document.activeElement?.dataset?.key;
    this.parent.replaceChildren(...groups.map((group) => this.group(group)));
    this.filter(this.find.value);
    if (had) this.rows.get(had)?.input.focus();
  }

  group(group) {
    const box = document.createElement("details");
    box.dataset.name = group.name;
    box.open = this.open.has(group.name);
    box.addEventListener("toggle", () => !this.find.value && this.open[box.open ? "add" : "delete"](group.name));
    const head = document.createElement("summary");
    head.textContent = group.name;
    box.append(head);
    if (group.path.length) {
      const tools = document.createElement("div");
      tools.className = "row tools";
      for (const [what, words] of [["copy", "Another like it"], ["out", "Take it out"]]) {
        const button = document.createElement("button");
        button.textContent = words;
        button.setAttribute("aria-label", `${words}: ${group.name}`);
        button.addEventListener("click", () => this.entry(group, what));
        tools.append(button);
      }
      box.append(tools);
    }
    for (const row of group.rows) box.append(this.row(row));
    return box;
  }

  row(row) {
    const box = document.createElement("div");
    box.className = `key${row.text ? " given" : ""}`;
    const label = document.createElement("label");
    const name = document.createElement("span");
    row.label.split("_").forEach((part, i) => name.append(...(i ? ["_", document.createElement("wbr")] : []), part));
    const unit = document.createElement("small");
    unit.textContent = row.unit;
    let input = document.createElement(row.choices.length ? "select" : "input");
    if (row.choices.length) {
      input.append(new Option(row.now && !row.text ? `${row.now} (not written)` : "not written", ""), ...row.choices.map((c) => new Option(c, c)));
    } else {
      input.autocomplete = "off";
      input.spellcheck = false;
      input.placeholder = row.now;
    }
    input.value = row.text;
    input.dataset.key = row.key;
    input.title = row.meaning;
    input.setAttribute("aria-description", `${row.meaning}${row.unit ? `, ${row.unit}` : ""}`);
    const fault = document.createElement("p");
    fault.className = "fault";
    fault.id = `fault-${this.rows.size}`;
    input.addEventListener("change", () => this.typed(row, input.value));
    label.append(name, unit, input);
    box.append(label, fault);
    this.rows.set(row.key, { row, input, fault, box });
    return box;
  }

  // Messages beside their keys; those of keys that have no row are handed back.
  blame(faults) {
    for (const { input, fault } of this.rows.values()) {
      fault.textContent = "";
      input.removeAttribute("aria-invalid");
      input.removeAttribute("aria-errormessage");
    }
    return faults.filter(({ key, message }) => {
      const at = this.rows.get(key) ?? [...this.rows.entries()].find(([k]) => key && (k.startsWith(`${key}.`) || key.startsWith(`${k}.`)))?.[1];
      if (!at) return true;
      at.fault.textContent = message;
      at.input.setAttribute("aria-invalid", "true");
      at.input.setAttribute("aria-errormessage", at.fault.id);
      at.box.closest("details").open = true;
      return false;
    });
  }

  filter(words) {
    const wanted = words.trim().toLowerCase();
    for (const box of this.parent.children) {
      let some = false;
      for (const key of box.querySelectorAll(".key")) {
        const input = key.querySelector("[data-key]");
        key.hidden = wanted !== "" && !`${input.dataset.key} ${input.title}`.toLowerCase().includes(wanted);
        some ||= !key.hidden;
      }
      box.hidden = !some;
      box.open = wanted ? some : this.open.has(box.dataset.name);
    }
  }
}
