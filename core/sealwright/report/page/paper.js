"use strict";
/* On paper everything is unfolded; afterwards it is folded again as it was. */
(() => {
  const folds = [...document.querySelectorAll("details")];
  let open = [];
  addEventListener("beforeprint", () => { open = folds.map((fold) => fold.open); for (const fold of folds) fold.open = true; });
  addEventListener("afterprint", () => folds.forEach((fold, i) => { fold.open = open[i]; }));
})();
