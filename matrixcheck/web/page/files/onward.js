// From the list of jobs to where somebody wants to be: the screens in the browser where there is room for them.

import { set, setting } from "./client.js";

const WIDE = 1000;
const onward = document.getElementById("jobs").dataset.onward;
const query = new URLSearchParams(location.search);

if (query.has("page")) set("page", query.get("page"));
const terminal = innerWidth >= WIDE && setting("page", "0") !== "1";
if (terminal) location.replace(`/terminal${location.search}`);
else if (onward) location.replace(onward);
