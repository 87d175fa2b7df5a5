<<<<<<<< HEAD:src/forerun/app/web/built/parts/reach-DRhSkKpm.js
import{E as e}from"./index-CBkhtMi4.js";var t=1e3;function n(n,r){let i=!1;async function a(){for(;;)try{await n();break}catch(n){if(!(n instanceof e))throw n;if(r(!0),await new Promise(e=>setTimeout(e,t)),i)return}r(!1)}return a(),()=>i=!0}export{n as t};
========
import{E as e}from"./index-CBzrkBn8.js";var t=1e3;function n(n,r){let i=!1;async function a(){for(;;)try{await n();break}catch(n){if(!(n instanceof e))throw n;if(r(!0),await new Promise(e=>setTimeout(e,t)),i)return}r(!1)}return a(),()=>i=!0}export{n as t};
>>>>>>>> ec16111 (A card that says when to switch in eleven actions; the answer stays in view on tablet and phone):src/forerun/app/web/built/parts/reach-KNPN0YRs.js
