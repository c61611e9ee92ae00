/**
 * From a folder, browsers refuse workers; the theme's search then needs one made of a frame. Workers made of
 * data or a blob are let be: those the guide's own calculators start, and they run.
 */
(() => {
  const Native = window.Worker, Frame = window.IFrameWorker;
  if (location.protocol !== "file:") return;
  window.Worker = function (url, options) {
    return /^(data|blob):/.test(url) ? new Native(url, options) : new Frame(url, options);
  };
})();
