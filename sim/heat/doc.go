// Package heat solves the heat balance of a machine's boilers exactly: how
// element, water, shell, probe and thermal link of each channel, the common
// lid and the pocket around the board warm and cool under given powers, with
// draws of water and steam, boiling, relief and running dry.
//
// It knows the boilers of a models.Board and the powers that a caller states
// piece by piece. It doesn't know where powers come from, what a controller
// does with a temperature, or what a fault is: an edit of the board reaches it
// through [Machine.Rebuild].
//
// # Equations
//
// Temperatures T in °C, C in J/K, G in W/K, m in kg; e element, w water,
// s shell, p probe, l link, k lid, b pocket, a the room:
//
//	C_e dTe/dt = P_el − G_ew (Te − Tw) − G_es (Te − Ts)
//	C_w dTw/dt = G_ew (Te − Tw) − G_ws (Tw − Ts) − G_wp (Tw − Tp) − draws − evaporation
//	C_s dTs/dt = G_ws (Tw − Ts) + G_es (Te − Ts) − G_sk (Ts − Tk) − G_sl (Ts − Tl)
//	             − G_sa (Ts − Ta) − Σ G_ij (Ts_i − Ts_j)
//	C_p dTp/dt = G_wp (Tw − Tp)
//	C_l dTl/dt = G_sl (Ts − Tl) + P_link
//	C_k dTk/dt = Σ G_sk (Ts − Tk) − G_kb (Tk − Tb) − G_ka (Tk − Ta)
//	C_b dTb/dt = G_kb (Tk − Tb) + P_pocket − G_ba (Tb − Ta)
//
//	C_w = m c_p(Tw);  w = min(1, m/m_min);  G_ew = w G/s, s the scale;  G_es = (1 − w) G_es0
//
// with c_p of saturated liquid, its integral H and the latent heat h_fg from
// package water (IAPWS R7-97(2012)). A link has no path but to its shell. An
// upstream link is one node that sees all shells alike, each with an equal
// part of its conductance.
//
// A draw of water f takes f (H(Tw) − H_in) and leaves the mass alone; H_in is
// that of the cold supply, or of another boiler's water, which then gives the
// same flow and takes it from the cold supply at its own inlet. A draw of
// steam takes f h_fg and the mass falls, or with a feed f (h_fg + H(Tw) − H_in)
// and it doesn't. It runs at whatever temperature the water has.
//
// An open boiler boils at saturation of ambient pressure, a closed one at that
// of its relief valve: there the temperature is held and the surplus of heat
// evaporates water. When the surplus turns negative the temperature is free
// again. A relief valve that has opened stays so until the pressure is down
// to reseating, but lets out steam only while the temperature is held. At the
// floor nothing evaporates any more, drawn or boiled; what is left of the
// water warms with the rest and stands for whatever a dry boiler holds. The
// pressure of a closed boiler is then at most the relief pressure.
//
// # Windows
//
// [Machine.Window] advances by one control window. It freezes the
// coefficients, so that the equations become linear, and solves those exactly:
// each piece of constant power is a step of a Taylor series for the action of
// the matrix exponential (A. H. Al-Mohy and N. J. Higham, SIAM J. Sci. Comput.
// 33 (2011) 488-511), split where the network is fast, up to an order that
// bounds what is left out by 1e-15 K. Heat lost and carried out are integrals
// of the same series.
//
// A first pass with the coefficients at the start predicts the window; the
// second, which counts, has those half-way between start and predicted end:
//
//   - c_p, H and h_fg at the mean of both temperatures, H(T) in draws as the
//     straight line of slope c_p through it;
//   - m and w at the mean of both masses, except that what boils off does so
//     at constant temperature: the heat capacity has the mass before boiling
//     until it boils and the mass after it then.
//
// The plan can take each element's resistance at its mean temperature over a
// piece, [Outlook.ElementMean], rather than in the middle of the window.
// Against integrations that freeze nothing (20 minutes and two hours,
// windows of 1 s) water, shells, probes and links then agree within 10 µK,
// elements within 0.1 mK, half dry within 0.5 mK at the end of a window, and
// events within 0.2 ms. With the resistance at the middle of the window
// temperatures are off by up to 26 mK.
//
// [Calm] takes whole windows in which nothing can happen in a thirtieth of the
// time: each boiler exactly in its modes, with its water's enthalpy as a state,
// and what passes between boilers, lid, pocket and room at its value in the
// middle of the window. Against Window it stays within 0.2 mK over 4000 windows
// of the demonstration board with draws, and within 2 mK where boiling, links
// and draws take turns.
//
// # Events
//
// Along a step every temperature, surplus and mass is a polynomial in time.
// Events are its roots, found to round-off (some 1e-12 s) and never rounded
// to a window. None is missed: an interval is skipped only where the
// Bernstein coefficients show that there is no root, and halved while there
// may be two. Boiling, relief and levels change what follows at that instant,
// within the same frozen coefficients; draws begin and end at their own
// nanosecond. A thermal link that reaches its temperature ends the window
// there, since the circuit must change. It is told once, and again only when
// Rebuild finds it closed and cooler than its functioning temperature.
//
// # Balance
//
// Energy in = stored + lost to the room + carried out, to 1e-9 with the
// frozen coefficients and to 1e-5 with m H(T) from the temperatures alone;
// [Machine.Check] says whether it is so.
//
// # What is left out
//
// Conductances are constants: no radiation or convection that grows with
// temperature beyond what the frozen values carry. Water is well mixed, never
// freezes, and boils without delay; steam leaves the machine and condenses
// nowhere in it; a closed boiler holds no air. Losses of the wiring are the
// caller's to leave out.
package heat
