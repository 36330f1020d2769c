// A code in the address stands after #, so that it reaches no log. It is taken into the field and out of the address.
const code = document.getElementById("code");
if (location.hash.length > 1 && !code.value) {
  code.value = decodeURIComponent(location.hash.slice(1));
  history.replaceState(null, "", location.pathname);
  document.getElementById("new").focus();
}
