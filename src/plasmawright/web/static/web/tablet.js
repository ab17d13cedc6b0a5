// The code may stand behind the # of the address, which never reaches a server or its logs.
const code = decodeURIComponent(location.hash.slice(1));
if (code) {
  document.getElementById("code").value = code;
  history.replaceState(null, "", location.pathname);
}
