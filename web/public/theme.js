// Before the first pixel is drawn: the theme of last time, so that no white flash meets eyes that are used to the dark.
(function () {
  var theme = null;
  try {
    theme = localStorage.getItem('theme');
  } catch (e) {
    theme = null;
  }
  if (['day', 'night', 'dark-adapted'].indexOf(theme) < 0) theme = 'night';
  document.documentElement.dataset.theme = theme;
  document.documentElement.style.background = theme === 'day' ? '#f6f2e9' : theme === 'night' ? '#0c1018' : '#000';
})();
