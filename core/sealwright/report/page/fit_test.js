"use strict";
/* The fit test form: overall fit factor, verdict, comparison with the prediction, saved and loaded as JSON. */
(() => {
  const form = document.getElementById("fit-form");
  if (!form) return;
  const rules = JSON.parse(document.getElementById("fit-data").textContent);
  const words = ["date", "tester", "instrument", "wearer", "notes"];
  const result = document.getElementById("fit-result"), comparison = document.getElementById("fit-comparison");
  const field = (name) => form.elements.namedItem(name);
  const inRange = (x) => Number.isFinite(x) && x >= rules.least && x <= rules.most;

  const factors = () => {
    const found = {};
    for (const { key } of rules.exercises) {
      const value = field(key).value.trim() === "" ? NaN : Number(field(key).value);
      field(key).setAttribute("aria-invalid", String(field(key).value.trim() !== "" && !inRange(value)));
      if (inRange(value)) found[key] = value;
    }
    return found;
  };

  /* n / sum(1 / ff) over the exercises that count; null while one of them is missing. */
  const overall = (found) => {
    const counted = rules.exercises.filter((e) => e.counts).map((e) => found[e.key]);
    if (counted.some((x) => x === undefined)) return null;
    return counted.length / counted.reduce((sum, x) => sum + 1 / x, 0);
  };

  const judged = () => {
    const found = factors(), total = overall(found);
    const missing = rules.exercises.filter((e) => found[e.key] === undefined).map((e) => e.key.replaceAll("_", " "));
    /* A harmonic mean of equal numbers comes out a rounding error short of them. */
    const reached = total === null ? 0 : total * (1 + 1e-12);
    const verdict = missing.length ? "incomplete" : reached >= rules.pass ? "pass" : reached >= rules.warn ? "warn" : "fail";
    return { found, total, missing, verdict };
  };

  const show = () => {
    const { total, missing, verdict } = judged();
    const meaning = {
      pass: `at or above the ${rules.pass} asked of a half mask`,
      warn: `below the ${rules.pass} asked of a half mask: it did not pass`,
      fail: `below ${rules.warn}: it leaks badly`,
    };
    result.className = `headline ${verdict}`;
    result.textContent = verdict === "incomplete"
      ? (missing.length === rules.exercises.length ? "Not done yet." : `Not complete: ${missing.join(", ")} not done.`)
      : `Overall fit factor ${total.toFixed(0)}, ${meaning[verdict]}.`;
    comparison.textContent = "";
    if (verdict === "incomplete" || !rules.quantiles) return;
    const { p5, p95 } = rules.quantiles, span = `the predicted ${p5.toFixed(0)} to ${p95.toFixed(0)}`;
    comparison.textContent = total < p5
      ? `Measured ${total.toFixed(0)} lies below ${span}: look for hair, a wrong scan, or loose straps.`
      : total > p95
        ? `Measured ${total.toFixed(0)} lies above ${span}: the prediction was too careful here.`
        : `Measured ${total.toFixed(0)} lies inside ${span}.`;
  };

  const record = () => {
    const { found, total, verdict } = judged();
    const entry = { format: rules.format, version: rules.version };
    for (const name of words) entry[name] = field(name).value;
    return { ...entry, factors: found, overall: total, verdict };
  };

  const save = () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([JSON.stringify(record(), null, 1) + "\n"], { type: "application/json" }));
    link.download = `fit-test${field("date").value ? "-" + field("date").value : ""}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  };

  const load = async (file) => {
    let entry = null;
    try { entry = JSON.parse(await file.text()); } catch { entry = null; }
    if (!entry || entry.format !== rules.format || entry.version !== rules.version) {
      result.className = "headline fail";
      result.textContent = "This file is no saved fit test. Choose a file that this form has written.";
      return;
    }
    for (const name of words) field(name).value = typeof entry[name] === "string" ? entry[name] : "";
    for (const { key } of rules.exercises) field(key).value = entry.factors && inRange(entry.factors[key]) ? entry.factors[key] : "";
    show();
  };

  form.addEventListener("input", show);
  form.addEventListener("submit", (event) => event.preventDefault());
  document.getElementById("fit-save").addEventListener("click", save);
  document.getElementById("fit-load").addEventListener("change", (event) => {
    if (event.target.files.length) load(event.target.files[0]);
    event.target.value = "";
  });
  /* For tests in a browser. */
  form.record = record;
  form.load = load;
  show();
})();
